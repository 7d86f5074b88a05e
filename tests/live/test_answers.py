"""What the program answers when it is asked."""

from __future__ import annotations

from dictate.interface import reader_of
from dictate.live.answers import answer, read_back, whats_left
from dictate.live.speech import spoken
from dictate.note.assemble import assemble
from dictate.note.fold import Heard, fold, hear, start
from dictate.recognise.events import Utterance

READER = reader_of()
EXAM = ["Right knee, active motion.", "Flexion one fifteen.", "Palpation.", "Medial joint line tender."]


def fold_of(*lines: str) -> Heard:
    return fold([Utterance.of_text(line) for line in lines], READER, heard=start(READER, region="knee"))


def note_of(heard: Heard):
    return assemble(heard.state, lexicon=READER.lexicon, source="live", region="knee")


def asked(*lines: str, last_answer: str | None = None) -> str | None:
    """Return the answer to the last line."""
    before = fold_of(*lines[:-1])
    after = hear(before, Utterance.of_text(lines[-1]), READER)
    control = READER.controls.control_of(lines[-1].split())
    assert control is not None
    return answer(control, note=note_of(after), heard=after, before=before, last_answer=last_answer)


def test_read_back_gives_the_last_finding_with_its_side() -> None:
    assert asked(*EXAM, "Read back.") == "Right medial joint line tenderness, present."


def test_read_back_of_a_section_gives_its_findings_only() -> None:
    assert asked(*EXAM, "Read back active motion.") == "Right flexion, 115°."


def test_read_back_of_everything() -> None:
    assert asked(*EXAM, "Read back everything.") == "Right flexion, 115°. Right medial joint line tenderness, present."


def test_read_back_after_a_correction_gives_the_correct_version() -> None:
    assert asked(*EXAM, "Correction, not tender.", "Read back.") == "Right medial joint line tenderness, absent."


def test_read_back_of_an_empty_section_says_so() -> None:
    assert asked(*EXAM, "Read back special tests.") == "Nothing is noted under special tests."


def test_read_back_before_any_finding_says_so() -> None:
    assert asked("Right knee.", "Read back.") == "Nothing is noted yet."


def test_a_doubt_is_read_back_too() -> None:
    assert read_back(note_of(fold_of("Knee. Flexion 1350 degrees on the right."))).endswith(
        "to be checked (out of range)."
    )


def test_a_side_that_was_not_said_is_read_back_as_such() -> None:
    assert "side not said" in read_back(note_of(fold_of("Active motion. Flexion one fifteen.")))


def test_a_long_section_is_read_back_from_its_end() -> None:
    lines = [f"Flexion {degrees}." for degrees in range(100, 126)]
    text = read_back(note_of(fold_of("Right knee, active motion.", *lines)), "active_motion")
    assert text.startswith("The last 12 of ")
    assert "125°" in text.split(". ")[-1]


def test_whats_left_names_sections_that_nothing_was_said_of() -> None:
    text = asked(*EXAM, "What's left?")
    assert text is not None
    assert "special tests" in text.split(".")[0]
    assert "palpation" not in text.split(".")[0]


def test_whats_left_names_what_a_section_lacks() -> None:
    text = asked(*EXAM, "What have I missed?")
    assert text is not None
    assert "Active motion: flexion (left) and extension." in text


def test_whats_left_does_not_ask_for_what_was_left_out_aloud() -> None:
    text = asked(*EXAM, "Skip the dermatomes, no symptoms.", "What's left?")
    assert text is not None
    assert "neurological" not in text


def test_whats_left_is_short_enough_to_listen_to() -> None:
    text = whats_left(note_of(fold_of("Right knee.", *EXAM)))
    assert len(text.split()) <= 60


def test_say_again_repeats_the_last_answer() -> None:
    assert asked(*EXAM, "Say again.", last_answer="Still to do: function.") == "Still to do: function."


def test_say_again_without_an_answer_repeats_the_last_finding() -> None:
    assert asked(*EXAM, "Say again.") == "Right medial joint line tenderness, present."


def test_disregard_says_what_it_took_back() -> None:
    assert asked(*EXAM, "Disregard.") == "Taken back: Right medial joint line tenderness, present."


def test_disregard_of_a_correction_says_what_holds_again() -> None:
    assert asked(*EXAM, "Correction, not tender.", "Disregard.") == (
        "As it was before: Right medial joint line tenderness, present."
    )


def test_disregard_of_talk_says_that_the_findings_stand() -> None:
    assert asked(*EXAM, "Moving on to special tests.", "Disregard.") == (
        "No finding was taken back. Last noted: Right medial joint line tenderness, present."
    )


def test_stand_by_says_how_to_go_on() -> None:
    assert asked(*EXAM, "Stand by.") == "Standing by. Say: ready to continue."


def test_what_it_tells_to_say_is_understood() -> None:
    control = READER.controls.control_of(["ready", "to", "continue"])
    assert control is not None
    assert control.kind == "resume"


def test_resuming_is_confirmed() -> None:
    assert asked(*EXAM, "Stand by.", "Resume.") == "Listening."


def test_a_correction_is_answered_by_the_finding_itself() -> None:
    assert asked(*EXAM, "Correction, not tender.") is None


def test_answers_can_be_spoken() -> None:
    text = asked(*EXAM, "Read back active motion.")
    assert text is not None
    assert spoken(text) == "Right flexion, 115 degrees."


def test_a_correction_that_corrects_nothing_is_said_to() -> None:
    assert asked(*EXAM, "Correction, banana.") == "Nothing was corrected by: banana."
