"""Kinds of talk: what the examiner states of this patient now makes findings, and nothing else does."""

from __future__ import annotations

import pytest

from tests.support.brief import said


@pytest.mark.parametrize(
    "text",
    [
        "Bend your knee as far as you can.",
        "Push against my hand.",
        "Let me know if this is tender.",
        "Does it hurt on the inside of the knee?",
        "If the knee were swollen we would drain it.",
        "If the Lachman is positive, think of the cruciate.",
        "A positive Lachman usually means a torn cruciate.",
        "Normal flexion is about one thirty-five.",
        "You would see an effusion in a haemarthrosis.",
        "She had swelling last week.",
        "He says the knee gives way on stairs.",
        "The MRI showed a medial meniscus tear.",
        "The X-ray shows an effusion.",
        "This is consistent with a medial meniscus tear.",
        "We will check the flexion again in two weeks.",
        "I want you to get to ninety degrees of flexion by Friday.",
        "The textbook says that grade two laxity has a soft end point.",
        "If anything hurts, tell me and I'll stop.",
        "An anterior drawer that's positive has a dimple in front of the fibula.",
        "Back and left leg pain for six weeks.",
        "For stiffness you test external rotation with the elbow in.",
        "I'd expect an L5 root, so weak big toe extension and numbness on the top of the foot.",
        "A painful arc is pain in the middle third, roughly sixty to a hundred and twenty.",
        "Three or more positive would make the joint more likely.",
        "To ask: any night pain, any locking.",
        "HEP: quads sets, no squat.",
        "No hop x 3/52.",
    ],
)
def test_talk_that_makes_no_finding(text: str) -> None:
    assert said(f"Right knee.\n{text}") == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Push against me, that's five out of five for the quads.", ["right quadriceps strength MRC 5"]),
        ("You do have some tenderness on the medial joint line.", ["right medial joint line tenderness present"]),
        ("He twisted it last week. There is a moderate effusion.", ["right effusion present moderate"]),
        ("Checking the Lachman now. Negative.", ["right lachman test negative"]),
        ("Just relax for me. Lachman is negative.", ["right lachman test negative"]),
        ("If that hurts tell me. Medial joint line is tender.", ["right medial joint line tenderness present"]),
        ("You get a hundred and ten degrees of flexion before pain stops it.", ["right flexion 110 limited by pain"]),
        ("You straighten fully.", ["right extension normal"]),
        ("Straightening against my hand is strong, but it hurts.", ["right extension strength normal with pain"]),
    ],
)
def test_findings_among_other_talk(text: str, found: list[str]) -> None:
    assert said(f"Right knee.\n{text}") == found


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("No effusion.", "absent"),
        ("There is an effusion.", "present"),
        ("There isn't any effusion.", "absent"),
        ("I can't feel an effusion.", "absent"),
        ("I don't appreciate an effusion.", "absent"),
        ("Possibly an effusion.", "equivocal"),
        ("No evidence of an effusion.", "absent"),
    ],
)
def test_polarity(text: str, status: str) -> None:
    assert said(f"Right knee.\n{text}") == [f"right effusion {status}"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A painful arc runs from sixty to one twenty. His is negative.", ["left painful arc negative"]),
        ("For Neer you fix the scapula and lift. It's negative in most people.", []),
        ("Hawkins: any pain, sir? No, negative.", ["left hawkins-kennedy test negative"]),
        ("Where is it? In the groove. And his isn't tender.", ["left bicipital groove tenderness absent"]),
        ("She knits of an evening and that's when it aches.", []),
        ("External rotation in a torn cuff hurts and is weak.", []),
    ],
)
def test_a_test_that_was_taught_and_its_verdict(text: str, expected: list[str]) -> None:
    assert said(f"Left shoulder.\n{text}") == expected


def test_a_place_that_is_asked_about_is_what_the_answer_is_of() -> None:
    text = "Palpation. Olecranon tender. Lateral epicondyle? Nothing."
    assert said(f"Left elbow.\n{text}")[1] == "left lateral epicondyle tenderness absent"
