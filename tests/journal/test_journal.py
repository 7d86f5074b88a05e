"""The journal: what was appended is there, in order, and whatever is not what was written shows."""

import os
import resource
import stat
import subprocess
import sys
import textwrap

import pytest

from dictate.errors import JournalError
from dictate.journal.events import About, Gap, HeardUtterance, Opened
from dictate.journal.journal import START, Journal, chained, read_journal
from dictate.recognise.events import Hypothesis, Utterance, Word

OPENED = Opened(exam="2026-01-05T101500-abcd", program="0", lexicon="x", source="live")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "journal.jsonl"


def filled(path, count=3):
    journal = Journal(path, new=True)
    journal.append(OPENED)
    for number in range(count):
        journal.append(About(patient=f"patient {number}"))
    return journal


def test_what_was_appended_is_read_back(path):
    journal = filled(path)
    assert read_journal(path).events == journal.events


def test_events_are_numbered_from_zero(path):
    assert [event.n for event in filled(path).events] == [0, 1, 2, 3]


def test_an_utterance_survives_the_file_exactly(path):
    word = Word(text="fünf “Grad”", start_s=1.1, end_s=1.7000000000000002, confidence=0.1 + 0.2)
    other = Hypothesis(text="four", score=-0.3, favoured=True)
    utterance = Utterance(words=(word,), alternatives=(other,), endpoint_s=2.3)
    journal = Journal(path, new=True)
    journal.append(HeardUtterance(utterance=utterance))
    event = read_journal(path).events[0]
    assert isinstance(event, HeardUtterance) and event.utterance == utterance


def test_only_its_owner_may_read_it(path):
    filled(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_second_journal_is_never_begun_over_one(path):
    filled(path)
    with pytest.raises(JournalError, match="never begun over"):
        Journal(path, new=True)


def test_two_that_are_open_at_once_see_each_other(path):
    one = filled(path, count=0)
    two = Journal(path)
    two.append(About(patient="second"))
    one.append(About(patient="third"))
    assert [event.n for event in two.refresh()] == [0, 1, 2]
    assert read_journal(path).broken_line is None


def test_a_decision_on_an_overtaken_exam_is_refused(path):
    one, two = filled(path), Journal(path)
    two.append(About(patient="other"))
    with pytest.raises(JournalError, match="changed elsewhere"):
        one.append(About(patient="late"), expected=4)
    assert len(read_journal(path).events) == 5


@pytest.mark.parametrize("line", [0, 1, 2, 3])
def test_a_changed_letter_shows_in_its_line(path, line):
    filled(path)
    lines = path.read_bytes().splitlines(keepends=True)
    lines[line] = lines[line].replace(b'"at":"20', b'"at":"21')
    path.write_bytes(b"".join(lines))
    assert read_journal(path).broken_line == line + 1


def test_a_line_taken_out_shows(path):
    filled(path)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:1] + lines[2:]))
    assert read_journal(path).broken_line == 2


def test_two_lines_exchanged_show(path):
    filled(path)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([lines[0], lines[2], lines[1], lines[3]]))
    assert read_journal(path).broken_line == 2


def test_nothing_is_added_to_a_damaged_journal(path):
    filled(path)
    path.write_bytes(path.read_bytes().replace(b"patient 1", b"patient 7"))
    before = path.read_bytes()
    with pytest.raises(JournalError, match="line 3"):
        Journal(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("kept", range(1, 60, 7))
def test_a_write_cut_short_is_set_aside_and_the_rest_goes_on(path, kept):
    filled(path)
    whole = path.read_bytes()
    last = whole.splitlines(keepends=True)[-1]
    path.write_bytes(whole[: -len(last)] + last[:kept])
    journal = Journal(path)
    journal.append(About(patient="next"))
    reading = read_journal(path)
    assert [event.n for event in reading.events] == [0, 1, 2, 3] and reading.broken_line is None
    assert path.with_name("journal.jsonl.torn-1").read_bytes() == last[:kept]


def test_a_tail_of_zeros_from_a_power_cut_is_set_aside(path):
    filled(path)
    with path.open("ab") as file:
        file.write(b"\0" * 100)
    assert len(Journal(path).events) == 4


def test_the_chain_is_sha256_over_the_line_and_the_chain_before(path):
    """FIPS 180-4: sha256 of "abc" begins ba7816bf; the chain of that line follows from it by hand."""
    assert chained("", b"abc").startswith("ba7816bf8f01cfea")
    filled(path, count=0)
    line = path.read_bytes()
    body = line[: line.index(b',"chain"')] + b"}"
    assert chained(START, body).encode() in line


def test_a_disk_that_fills_leaves_no_half_line(tmp_path):
    """The kernel refuses the write, as a full disk does: the file may not grow past a few hundred bytes."""
    program = textwrap.dedent(
        """
        import resource, signal, sys
        from pathlib import Path
        from dictate.errors import JournalError
        from dictate.journal.events import About, Opened
        from dictate.journal.journal import Journal
        path = Path(sys.argv[1])
        journal = Journal(path, new=True)
        journal.append(Opened(exam="2026-01-05T101500-abcd", program="0", lexicon="x", source="live"))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 100, resource.RLIM_INFINITY))
        try:
            journal.append(About(patient="x" * 500))
        except JournalError as error:
            print(error)
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        journal.append(About(patient="after"))
        """
    )
    path = tmp_path / "journal.jsonl"
    done = subprocess.run([sys.executable, "-c", program, path], capture_output=True, text=True, check=True)
    assert "cannot be written" in done.stdout
    assert [event.kind for event in read_journal(path).events] == ["opened", "about"]


def test_a_journal_that_became_shorter_is_refused(path):
    journal = filled(path)
    os.truncate(path, 10)
    with pytest.raises(JournalError, match="shorter"):
        journal.append(Gap(from_s=0, to_s=1, why="test"))


def test_a_folder_without_an_exam_is_named(tmp_path):
    with pytest.raises(JournalError, match="holds no exam"):
        read_journal(tmp_path / "journal.jsonl")


def test_an_open_journal_holds_one_file_handle(path):
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    for _ in range(soft + 10):
        Journal(path, new=not path.exists()).close()
