"""Notes to hand on: those of the fixtures' scripts, random ones, and one with everything in it."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import get_args

from hypothesis import strategies as st

from dictate import interpret
from dictate.contract import (
    Coverage,
    Doubt,
    DoubtReason,
    Exam,
    Finding,
    Grade,
    Measure,
    Note,
    OneSide,
    Prompt,
    PromptKind,
    Region,
    Replaced,
    Section,
    SectionCoverage,
    Severity,
    Side,
    Status,
)
from dictate.export import Addendum, Handover, Signing

SCRIPTS = sorted((Path(__file__).parents[2] / "audio_fixtures").glob("*.txt"))
NAMES = [path.stem for path in SCRIPTS]
NASTY = '<script>alert("1")</script> & \'x\' ]]> =1+1 *a* [b](c) `d` \u0000\u0007\n-2'
MOMENT = datetime(2026, 11, 25, 9, 15, tzinfo=UTC)


@cache
def fixture_note(name: str) -> Note:
    """Return the note of a fixture's script."""
    path = next(path for path in SCRIPTS if path.stem == name)
    return interpret(path.read_text(encoding="utf-8"))


def note_with(*findings: Finding, region: Region = "knee", injured: OneSide | None = None) -> Note:
    return Note(exam=Exam(region=region, injured_side=injured), findings=list(findings))


def finding(name: str = "tenderness", **fields: object) -> Finding:
    return Finding.model_validate({"section": "palpation", "region": "knee", "finding": name, **fields})


SIGNED = Handover(
    exam_id="2026-11-25T091530-k7qx", exam_date=MOMENT, patient="P-17", age=34, sex="female",
    signing=Signing(name="A. Example", role="physiotherapist", at=MOMENT, digest="0f" * 32),
    exported_at=MOMENT,
)  # fmt: skip
DRAFT = Handover(exam_id="2026-11-25T091530-k7qx", exam_date=MOMENT, patient="P-17", exported_at=MOMENT)
AMENDED = Handover(
    exam_id="2026-11-25T091530-k7qx", signing=SIGNED.signing, exported_at=MOMENT,
    addenda=(Addendum(text="Left flexion measured again: 130", name="B. Second", role="physician", at=MOMENT),),
)  # fmt: skip
NASTY_HANDOVER = Handover(
    exam_id=NASTY, patient=NASTY, exam_date=MOMENT, exported_at=MOMENT,
    signing=Signing(name=NASTY, role=NASTY, at=MOMENT, digest=NASTY),
    addenda=(Addendum(text=NASTY, name=NASTY, role=NASTY, at=MOMENT),),
)  # fmt: skip
HANDOVERS = {"unknown": Handover(exported_at=MOMENT), "draft": DRAFT, "signed": SIGNED, "amended": AMENDED}


def nasty_note() -> Note:
    """Return a note whose every text is what a careless writer would run, cut or lose."""
    return Note(
        exam=Exam(region="knee", injured_side="left", seconds=61.5),
        findings=[
            Finding(
                section="inspection", region="knee", side="left", structure=NASTY, finding=NASTY, status="present",
                degrees=-12.5, grade=Grade(scale=NASTY, value=NASTY), measure=Measure(value=1.5, unit="cm"),
                at_degrees=30, severity="mild", end_feel=NASTY, limited_by=[NASTY], with_=[NASTY], said=NASTY,
                doubts=[Doubt(reason="sounds_like", detail=NASTY, suggestion=NASTY)], time=(1.25, 2.5),
                replaced=[Replaced(field="side", value=NASTY, said=NASTY)],
            )
        ],
        sections=[SectionCoverage(section="inspection", coverage="partial", missing=[NASTY], reason=NASTY)],
        prompts=[Prompt(kind="safety", text=NASTY, source=NASTY, findings=[0])],
    )  # fmt: skip


# -- random notes ----------------------------------------------------------------------------------------------------


def _one_of(kind: object) -> st.SearchStrategy[str]:
    return st.sampled_from(get_args(kind))


_text = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=12)
_number = st.floats(allow_nan=False, allow_infinity=False)
_maybe_number = st.none() | _number

findings = st.builds(
    Finding,
    section=_one_of(Section), region=_one_of(Region), side=st.none() | _one_of(Side), structure=st.none() | _text,
    finding=_text, status=st.none() | _one_of(Status), degrees=_maybe_number, at_degrees=_maybe_number,
    grade=st.none() | st.builds(Grade, scale=_text, value=_text),
    measure=st.none() | st.builds(
        Measure, value=_number, unit=st.sampled_from(["cm", "mm", "s", "1"]),
        comparator=st.sampled_from([None, "<", ">"]),
    ),
    severity=st.none() | _one_of(Severity), end_feel=st.none() | _text, limited_by=st.lists(_text, max_size=2),
    with_=st.lists(_text, max_size=2), confidence=st.floats(0, 1),
    doubts=st.lists(
        st.builds(Doubt, reason=_one_of(DoubtReason), detail=_text, suggestion=st.none() | _text), max_size=2
    ),
    said=_text, time=st.none() | st.tuples(st.floats(0, 1e6), st.floats(0, 1e6)),
    replaced=st.lists(st.builds(Replaced, field=_text, value=st.none() | _text | _number, said=_text), max_size=2),
)  # fmt: skip
notes = st.builds(
    Note,
    exam=st.builds(
        Exam, region=_one_of(Region), injured_side=st.sampled_from([None, "left", "right", "both"]),
        source=st.sampled_from(["text", "file", "live"]), seconds=st.none() | st.floats(0, 1e6),
    ),
    findings=st.lists(findings, max_size=4),
    sections=st.lists(
        st.builds(
            SectionCoverage, section=_one_of(Section), coverage=_one_of(Coverage),
            sides=st.lists(_one_of(OneSide), max_size=2), missing=st.lists(_text, max_size=2),
            reason=st.none() | _text,
        ),
        max_size=2,
    ),
    prompts=st.lists(
        st.builds(
            Prompt, kind=_one_of(PromptKind), text=_text, source=_text,
            findings=st.lists(st.integers(0, 3), max_size=2),
        ),
        max_size=2,
    ),
)  # fmt: skip
