"""What was signed stays as it was signed, whatever lexicon reads its words later."""

import pytest

from dictate.interface import reader_of
from dictate.journal.events import Edited, HeardUtterance, Signed
from dictate.journal.replay import replay
from dictate.journal.signed import standing
from dictate.journal.signing import with_digest
from dictate.language.reader import Reader
from dictate.recognise.events import Utterance
from tests.support.exams import kept_exam, told


@pytest.fixture
def journal(tmp_path):
    return kept_exam(
        tmp_path, ["Right knee, active flexion one twenty.", "Lachman negative.", "Supraspinatus tender."]
    )[1]


@pytest.fixture(scope="module")
def other_reader():
    """A lexicon in which the Lachman test has another name, as a later version might have."""
    lexicon = reader_of(None).lexicon
    renamed = [
        term.model_copy(update={"label": "anterior glide"}) if term.label == "lachman test" else term
        for term in lexicon.terms
    ]
    return Reader(type(lexicon)(tuple(renamed), *(getattr(lexicon, n) for n in list(lexicon.__dataclass_fields__)[1:])))


def sign(journal, **more):
    now = standing(journal.events, reader_of(None))
    event = Signed(name="A", role="r", note=now.note, digest="", keys=[item.key for item in now.shown], **more)
    return journal.append(with_digest(event, journal.chain))


def test_unsigned_it_is_the_replay(journal):
    assert standing(journal.events, reader_of(None)) == replay(journal.events, reader_of(None))


def test_another_lexicon_reads_an_unsigned_exam_anew(journal, other_reader):
    assert "anterior glide" in {finding.finding for finding in standing(journal.events, other_reader).note.findings}


def test_another_lexicon_does_not_read_a_signed_exam_anew(journal, other_reader):
    signed = sign(journal)
    assert standing(journal.events, other_reader).note == signed.note


def test_a_change_since_is_laid_over_what_was_signed(journal, other_reader):
    signed = sign(journal)
    flexion = signed.note.findings[0]
    after = flexion.model_copy(update={"degrees": 130.0})
    journal.append(Edited(action="change", item=signed.keys[0], before=flexion, after=after))
    findings = standing(journal.events, other_reader).note.findings
    assert findings[0].degrees == 130 and findings[1:] == signed.note.findings[1:]


def test_an_open_doubt_stays_as_it_was_signed_beside_a_change(journal):
    signed = sign(journal)
    flexion, doubted = signed.note.findings[0], signed.note.findings[2]
    journal.append(Edited(action="remove", item=signed.keys[0], before=flexion))
    assert doubted.doubts and standing(journal.events, reader_of(None)).note.findings[-1] == doubted


def test_what_is_heard_after_a_signature_is_added(journal):
    signed = sign(journal)
    journal.append(HeardUtterance(utterance=Utterance.of_text("Right pivot shift negative.")))
    findings = standing(journal.events, reader_of(None)).note.findings
    assert findings[:3] == signed.note.findings and findings[3].finding == "pivot shift"


def test_what_was_removed_before_signing_can_be_put_back(journal):
    first = told(journal)
    journal.append(Edited(action="remove", item=first.shown[0].key, before=first.note.findings[0]))
    sign(journal)
    after = first.note.findings[0].model_copy(update={"doubts": [], "confidence": 1.0})
    journal.append(Edited(action="accept", item=first.shown[0].key, before=first.note.findings[0], after=after))
    assert len(standing(journal.events, reader_of(None)).note.findings) == 3


def test_a_decision_before_signing_is_still_known(journal):
    first = told(journal)
    seen = first.note.findings[2]
    after = seen.model_copy(update={"doubts": [], "confidence": 1.0})
    journal.append(Edited(action="accept", item=first.shown[2].key, before=seen, after=after))
    sign(journal)
    assert standing(journal.events, reader_of(None)).shown[2].decision == "accepted"


def test_a_signature_that_names_no_keys_still_freezes(journal, other_reader):
    signed = sign(journal)
    nameless = signed.model_copy(update={"keys": [], "n": -1})
    journal.append(with_digest(nameless, journal.chain))
    assert standing(journal.events, other_reader).note == signed.note
