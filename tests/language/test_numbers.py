"""Numbers as clinicians say them and as recognisers write them."""

from __future__ import annotations

import pytest

from dictate.language.numbers import NumberReader
from dictate.language.quantity import Quantity
from tests.support.brief import said
from tests.support.reading import reader


def quantities(text: str) -> list[Quantity]:
    words = reader().lexicon.reference["words"]
    numbers = NumberReader(words, known=reader().index.vocabulary)
    return numbers.quantities(reader().tokeniser.tokens(text.split()))


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("one fifteen", 115),
        ("a hundred and five", 105),
        ("one hundred and five", 105),
        ("one oh five", 105),
        ("one thirty-five", 135),
        ("one thirty five", 135),
        ("one twelve", 112),
        ("1-12", 112),
        ("1 12", 112),
        ("one two five", 125),
        ("hundred and forty", 140),
        ("a hundred", 100),
        ("forty", 40),
        ("zero", 0),
        ("nought", 0),
        ("one thousand three hundred and fifty", 1350),
        ("thirteen hundred and fifty", 1350),
        ("fifteen hundred", 1500),
        ("three fifty", 350),
        ("four and a half", 4.5),
        ("two point five", 2.5),
        ("point five", 0.5),
        ("137.5", 137.5),
    ],
)
def test_plain_numbers(said: str, value: float) -> None:
    (found,) = quantities(said)
    assert (found.value, found.to_value, found.is_grade) == (value, None, False)


@pytest.mark.parametrize(
    ("said", "text", "out_of"),
    [
        ("four minus out of five", "4-", 5),
        ("two plus", "2+", None),
        ("2+", "2+", None),
        ("4-/5", "4-", 5),
        ("five over five", "5", 5),
        ("three plus out of four", "3+", 4),
        ("grade two", "2", None),
        ("grade III", "3", None),
        ("for plus", "4+", None),
        ("for minus out of five", "4-", 5),
        ("for out of five", "4", 5),
        ("to plus", "2+", None),
        ("six out of ten", "6", 10),
    ],
)
def test_grades(said: str, text: str, out_of: float | None) -> None:
    (found,) = quantities(said)
    assert (found.text(), found.out_of, found.is_grade) == (text, out_of, True)
    assert found.misheard == (said.split()[0] in ("for", "to"))


@pytest.mark.parametrize(
    ("said", "value", "unit", "comparator"),
    [
        ("one and a half centimetres", 1.5, "cm", None),
        ("five mil", 5, "mm", None),
        ("forty-six centimeters", 46, "cm", None),
        ("under two seconds", 2, "s", "<"),
        ("less than two seconds", 2, "s", "<"),
        ("over three seconds", 3, "s", ">"),
        ("more than ten degrees", 10, "deg", ">"),
        ("130°", 130, "deg", None),
        ("<2 seconds", 2, "s", "<"),
    ],
)
def test_measures(said: str, value: float, unit: str, comparator: str | None) -> None:
    (found,) = quantities(said)
    assert (found.value, found.unit, found.comparator) == (value, unit, comparator)


@pytest.mark.parametrize(
    ("said", "values", "sign"),
    [
        ("zero to one thirty-five", (0, 135, None), 0),
        ("oh to one forty", (0, 140, None), 0),
        ("0-135", (0, 135, None), 0),
        ("5-0-140", (5, 0, 140), 0),
        ("five to zero to one forty", (5, 0, 140), 0),
        ("minus five to one twenty", (5, 120, None), -1),
        ("four to five", (4, 5, None), 0),
    ],
)
def test_ranges(said: str, values: tuple[float, float | None, float | None], sign: int) -> None:
    (found,) = quantities(said)
    assert (found.value, found.to_value, found.third_value) == values
    assert found.sign == sign


@pytest.mark.parametrize(("said", "sign"), [("minus five", -1), ("-5", -1), ("plus five", 1), ("five", 0)])
def test_signs(said: str, sign: int) -> None:
    (found,) = quantities(said)
    assert (found.value, found.sign) == (5, sign)


@pytest.mark.parametrize(
    "said",
    [
        "the other one",
        "this one is sore",
        "two tests",
        "one of the menisci",
        "I came to look",
        "waiting for you",
        "the right one normal",
        "so is the outer one",
        "twenty a day",
        "two's what most have",
        "three times a week",
        "ten per day",
        "limping for 3/12",
        "again in 6/52",
        "stiff for 2 yrs",
    ],
)
def test_words_that_are_no_numbers(said: str) -> None:
    assert quantities(said) == []


def test_lachman_with_its_end_point() -> None:
    (found,) = quantities("two b")
    assert (found.value, found.letter, found.is_grade) == (2, "B", True)


def test_numbers_keep_apart() -> None:
    assert [found.value for found in quantities("flexion one thirty, abduction forty")] == [130, 40]
    assert [found.text() for found in quantities("four on the left, five on the right")] == ["4", "5"]


def test_a_number_before_a_term_of_several_words_counts_nothing() -> None:
    text = "Low back. Extension fifteen side flexion right twenty."
    assert said(text) == ["extension 15", "right lateral flexion 20"]


def test_levels_and_repetitions_are_counted() -> None:
    assert said("Low back. A two-level fusion is booked. Then she can do ten side bends a day.") == []


def test_a_muscle_of_a_list_of_strengths_is_no_reflex() -> None:
    text = "Neck. Neuro. Left arm: deltoid five, biceps four plus, triceps five."
    assert [line for line in said(text) if "reflex" in line] == []


def test_muscles_named_where_reflexes_are_tested() -> None:
    text = "Neck. Jerks: biceps and supinator two plus and equal, triceps brisk on the right."
    assert said(text) == [
        "both biceps reflex reflex reflex 2+",
        "both brachioradialis reflex reflex reflex 2+",
        "right triceps reflex reflex increased",
    ]


def test_a_tendon_that_is_tender_is_no_reflex() -> None:
    assert said("Right ankle. Achilles tendon tender two plus.")[0].startswith("right achilles tendon tenderness")


def test_two_behind_a_negative_result_is_too() -> None:
    text = "Left knee. Lachman negative. The anterior drawer is negative two."
    assert said(text)[-1] == "left anterior drawer negative"
    assert said("Left knee. Posterior drawer grade two.") == ["left posterior drawer laxity 2"]


def test_an_article_before_a_length_counts_one() -> None:
    text = "Right shoulder. Sulcus a centimetre on the right, two centimetres and a half on the left."
    assert [line.split()[-2:] for line in said(text)] == [["1", "cm"], ["2.5", "cm"]]


def test_a_number_that_names_a_week_or_a_player_is_no_value() -> None:
    assert said("Left knee. Hop not done yet, that's week sixteen.") == ["left hop not_examined"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Flexion on the right 100 and 18.", ["right flexion 118"]),
        ("Right flexion and abduction 100 and 80.", ["right flexion 100", "right abduction 80"]),
    ],
)
def test_a_hundred_and_more_in_digits(text: str, found: list[str]) -> None:
    assert said(f"Right shoulder. {text}") == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Right quads four by five.", ["right quadriceps strength MRC 4"]),
        ("Right elbow. Pronation, uh, seven zero.", ["right pronation 70"]),
        ("Right knee. Five zero one forty.", []),
        ("Right knee. Valgus at zero and thirty, doesn't open at either one.", [
            "right valgus stress test negative at 0", "right valgus stress test negative at 30",
        ]),
        ("Right foot. The right foot's the crook one.", []),
        ("Right wrist. Refill two seconds.\nAround the wrist sixteen.", ["right capillary refill 2 s"]),
    ],
)  # fmt: skip
def test_numbers_as_some_say_them(text: str, found: list[str]) -> None:
    assert said(text) == found
