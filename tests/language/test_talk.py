"""Kinds of talk: what the examiner states of this patient now makes findings, and nothing else does."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said
from tests.support.reading import findings


@pytest.mark.parametrize(
    "text",
    [
        "Bend your knee as far as you can.",
        "Push against my hand.",
        "An intact ligament stops with a knock, a torn one drifts.",
        "Pain by itself doesn't count.",
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
        "Swelling below the patella is a bursa.",
        "A swelling that dents is a bad sign.",
        "A big effusion won't let the knee bend.",
        "A straight leg raise is positive below sixty degrees.",
        "From the side you check the curve, from behind any wasting, from the front any scar.",
        "You'd be looking for a limp, for a valgus knee or for flat feet.",
        "If it's hot, red and swollen, think infection.",
        "Twenty degrees of internal rotation is plenty.",
        "Nought to one thirty is normal.",
        "Lateral pain is ITB.",
        "Weakness of abduction is the gluteus medius.",
        "Numbness on the outer thigh is meralgia.",
        "I saw a man on Friday with a gross effusion.",
        "Capillary refill should be under two seconds.",
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
        ("Swelling is mild.", ["right swelling present mild"]),
        ("Tenderness is at the tibial tubercle.", ["right tibial tubercle tenderness present"]),
        ("There isn't any effusion.", ["right effusion absent"]),
        ("A scar over the patella, well healed.", ["right patella scar present"]),
        ("Light touch is normal in L4.", ["right L4 dermatome light touch normal"]),
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


def test_a_result_after_the_teaching_of_an_announced_test_is_doubted() -> None:
    text = "Left knee. Now Lachman. Students fail because they grip the hamstrings. Left, negative."
    assert said(text) == ["left lachman test negative"]
    assert doubts(text) == [["incomplete"]]


def test_a_value_after_the_teaching_of_several_things_is_of_none() -> None:
    text = "Left knee. Lachman negative. Students fail because the patella clicks. Left, positive."
    assert said(text) == ["left lachman test negative"]


def test_stable_in_a_position_is_the_stress_test_spoken_of() -> None:
    text = "Left knee. Valgus: if it opened at zero you would worry. This knee is stable at zero and opens at thirty."
    assert said(text) == ["left valgus stress test negative at 0", "left valgus stress test positive at 30"]


def test_a_place_only_pointed_at_leaves_a_doubt() -> None:
    assert doubts("Left knee. She's tender there.") == [["incomplete"]]


def test_praise_of_how_a_joint_is_held_is_no_finding() -> None:
    text = "Right hip. Lie on your left side for me, bottom knee bent, perfect. Greater trochanter tender."
    assert [finding.split(" ", 1)[1] for finding in said(text)] == ["greater trochanter tenderness present"]


def test_a_test_named_as_a_question_is_what_the_answer_is_about() -> None:
    text = "Neck. Reflexes brisk on the right. Tromner? Negative on the left."
    assert said(text)[-1] == "left tromner sign negative"
    assert said("Right knee. Does the Lachman hurt? Negative for effusion.")[:1] != ["right lachman test negative"]


def test_a_heading_without_pauses_is_no_finding() -> None:
    text = "Low back. Slump positive on the right negative on the left neuro knee extension five both sides"
    assert said(text) == [
        "right slump test positive",
        "left slump test negative",
        "both extension strength MRC 5",
    ]


def test_a_result_of_another_test_says_nothing_of_a_place() -> None:
    assert said("SI joints. Round the front now, over the pubic symphysis.") == []


def test_full_is_said_of_no_reflex() -> None:
    text = "Low back. Ankle jerks two plus, equal.\nBoth of them full."
    assert said(text) == ["both achilles reflex reflex reflex 2+"]


def test_symptoms_since_then_and_what_was_lifted_are_history() -> None:
    assert said("Neck. Her right arm's been tingling since. Arm still aches.") == []
    assert said("Low back. Two days after lifting a box, back pain. No numbness, he tells me.") == []


def test_any_and_a_bare_answer_are_the_patient_s() -> None:
    assert said("Low back. Flexion full, any numbness in the foot, no, good, extension ten.") == [
        "flexion normal",
        "extension 10",
    ]
    assert said("Right knee. Any swelling, no. No warmth.") == ["right warmth absent"]
    assert said("Right knee. I can't see any swelling.") == ["right swelling absent"]


def test_the_reason_for_what_is_taught_is_taught() -> None:
    text = "Low back. You watch them stand, because a foot drop shows and a tender back is slow. Knee jerks absent."
    assert [line.split()[0] for line in said(text)] == ["patellar"]


def test_a_name_does_not_lean_across_a_full_stop() -> None:
    text = "Right knee. Ankle jerks two plus.\nRight hip full and pain free."
    assert said(text)[1:] == ["right range of motion normal"]


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


def test_the_answer_of_learners_is_no_finding() -> None:
    assert said("Right ankle. So which muscle's tight? Gastroc, good.") == []
    assert said("Right elbow. This is which test? Mill's, correct, and it is positive.") == ["right mill test positive"]


@pytest.mark.parametrize(
    "text",
    [
        "Right wrist. Radial pulse, present on the right.",
        "Right knee. Flexion, say, one ten.",
        "Right knee. I would say mild effusion.",
    ],
)
def test_words_that_are_also_verbs_of_history_state_a_finding(text: str) -> None:
    assert len(findings(text)) == 1


@pytest.mark.parametrize(
    "text", ["She presents with a swollen knee.", "He says the effusion was large.", "Reports swelling."]
)
def test_verbs_of_history_state_none(text: str) -> None:
    assert findings(text) == []
