"""`dictate review` and `dictate verify` as they are called, and what they do with a sealed exam."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.request

import pytest

from dictate.archive.index import Index, rebuild
from dictate.archive.vault import begin_sealing, sealed_files
from dictate.cli.main import main
from dictate.cli.review_exams import IndexedExams
from dictate.journal.exam import JOURNAL_NAME
from dictate.review.exams import Part, Wanted
from tests.review.exams import doubtful_exam


@pytest.fixture
def run(data, tmp_path):
    """Start `dictate review`; the link that it printed."""
    (tmp_path / "passphrase").write_text("a long passphrase of no use elsewhere\n")
    (tmp_path / "passphrase").chmod(0o600)
    environment = {**os.environ, "DICTATE_PASSPHRASE_FILE": str(tmp_path / "passphrase")}
    started = []

    def work(*arguments):
        command = [sys.executable, "-m", "dictate", "review", "--data", str(data), "--no-browser", *arguments]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment)
        started.append(process)
        return process, re.search(r"http://\S+", process.stdout.readline())[0]

    yield work
    for process in started:
        process.kill()
        process.wait()


def test_the_link_that_is_printed_opens_the_exam(run, exam):
    process, link = run(exam[0].exam)
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    assert b"Review of an exam" in opener.open(link, timeout=20).read()
    process.send_signal(signal.SIGINT)
    assert process.wait(timeout=20) == 130


@pytest.fixture
def sealed(data, monkeypatch, tmp_path):
    folder, journal = doubtful_exam(data)
    journal.close()
    monkeypatch.setenv("DICTATE_PASSPHRASE_FILE", str(tmp_path / "passphrase"))
    (tmp_path / "passphrase").write_text("a long passphrase of no use elsewhere\n")
    (tmp_path / "passphrase").chmod(0o600)
    begin_sealing(data, passphrase="a long passphrase of no use elsewhere").seal_all()
    assert not folder.journal_path.exists()
    return folder


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP], ids=lambda number: number.name)
def test_a_sealed_exam_is_open_while_it_is_reviewed_and_sealed_again(run, sealed, number):
    process, _ = run(sealed.exam)
    assert (sealed.path / JOURNAL_NAME).exists()
    process.send_signal(number)
    process.wait(timeout=20)
    assert sealed_files(sealed.path) and not (sealed.path / JOURNAL_NAME).exists()


def test_the_browser_is_not_started_with_the_key_of_the_page(data, exam, monkeypatch, capsys):
    started = []

    def browser(link):
        started.append(link)
        raise KeyboardInterrupt  # Ctrl+C right after it

    monkeypatch.setattr("webbrowser.open", browser)
    assert main(["review", exam[0].exam, "--data", str(data)]) == 130
    token = started[0].partition("token=")[2]
    assert f"/review/{exam[0].exam}?token=" in started[0] and token not in capsys.readouterr().out


def test_a_sealed_exam_is_verified_when_named(sealed, data, capsys):
    assert main(["verify", sealed.exam, "--data", str(data)]) == 0
    assert "as it was written" in capsys.readouterr().out
    assert not (sealed.path / JOURNAL_NAME).exists()


def test_sealed_exams_that_are_not_named_are_counted(sealed, data, capsys):
    assert main(["verify", "--data", str(data)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "1 sealed exam is not looked at; name one to open it: dictate verify EXAM",
        f"there are no others in {data}",
    ]


def test_the_list_from_the_index_knows_what_is_left_to_check(data, exam):
    listed = IndexedExams(data).part(Wanted()).exams
    assert [(one.exam, one.doubts, one.closed) for one in listed] == [(exam[0].exam, 7, True)]


def test_the_list_from_the_index_leaves_sealed_exams_out_and_counts_them(sealed, data):
    assert IndexedExams(data).part(Wanted()) == Part(sealed=1)


def test_sealed_exams_are_told_of_at_the_start(sealed, data, monkeypatch, capsys):
    monkeypatch.setattr("webbrowser.open", lambda link: (_ for _ in ()).throw(KeyboardInterrupt))
    assert main(["review", "--data", str(data)]) == 130
    assert "1 sealed exam is not listed; name one to open it: dictate review EXAM" in capsys.readouterr().out


def test_the_list_of_a_folder_that_is_not_there_is_empty(data):
    assert IndexedExams(data).part(Wanted()).exams == ()


@pytest.mark.parametrize("arguments", [["2026-01-01T000000-aaaa"], ["--port", "99999"], ["../x"], ["--prot", "1"]])
def test_what_cannot_be_shown_gets_one_line(data, exam, capsys, arguments):
    assert main(["review", *arguments, "--data", str(data), "--no-browser"]) == 2
    captured = capsys.readouterr()
    assert (captured.out, captured.err.count("\n")) == ("", 1)


def test_the_list_goes_on_though_its_index_was_made_anew_meanwhile(data, exam):
    exams = IndexedExams(data)
    exams.part(Wanted())
    rebuild(data)
    another, _ = doubtful_exam(data)
    assert [one.exam for one in exams.part(Wanted()).exams] == [another.exam, exam[0].exam]
    with Index(data) as index:
        assert index.refresh() == 0  # what the page read is in the index that there is now


def test_the_list_sees_what_another_program_wrote_to_the_index(data, exam):
    exams = IndexedExams(data)
    exams.part(Wanted())
    another, _ = doubtful_exam(data)
    with Index(data) as index:
        index.refresh()
    assert [one.exam for one in exams.part(Wanted()).exams] == [another.exam, exam[0].exam]
