"""What the page asks for over HTTP, and attacks on it.

Attacks after the OWASP Web Security Testing Guide (session tokens, path traversal, cross-site requests, oversized
bodies). The server base has tests of its own; these are of the review's routes.
"""

from __future__ import annotations

import io
import json
import wave

import numpy as np
import pytest

from tests.review.exams import doubtful_exam
from tests.web.small import Client


@pytest.fixture
def client(server, exam):
    client = Client(server)
    client.follow_link()
    return client


@pytest.fixture
def at(exam):
    return f"/review/{exam[0].exam}"


def note(client, at):
    return json.loads(client.ask(f"{at}/note").text)


def decide(client, at, item, action="accept", **more):
    wish = {"action": action, "item": item["key"], "version": item["version"], **more}
    return client.post(f"{at}/decide", wish)


def first(shown):
    return next(item for item in shown["items"] if item["key"] == shown["queue"][0])


def listed(client, **wanted):
    return json.loads(client.post("/exams", wanted).text)["exams"]


ROUTES = ("", "/note", "/item/u2.0", "/sound?from=1&to=2", "/check", "/events")


# -- who may ask ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("route", ROUTES)
def test_without_the_link_nothing_is_shown(server, exam, route):
    reply = Client(server).ask(f"/review/{exam[0].exam}{route}")
    assert (reply.status, "flexion" in reply.text) == (403, False)


@pytest.mark.parametrize("route", ["/labels", "/learn", "/"])
def test_without_the_link_no_list_is_shown(server, exam, route):
    reply = Client(server).ask(route)
    assert (reply.status, exam[0].exam in reply.text) == (403, False)


def test_without_the_link_nothing_is_searched(server, exam):
    reply = Client(server).post("/exams", {})
    assert (reply.status, exam[0].exam in reply.text) == (403, False)


def test_another_page_searches_nothing(client, exam):
    reply = client.post("/exams", {}, Origin="https://elsewhere.example")
    assert (reply.status, exam[0].exam in reply.text) == (403, False)


def test_a_wrong_token_opens_no_exam(server, exam):
    assert Client(server).ask(f"/review/{exam[0].exam}?token={'A' * 43}").status == 403


def test_the_link_to_one_exam_opens_it(server, exam):
    reply = Client(server).ask(f"/review/{exam[0].exam}?token={server.token}")
    assert (reply.status, reply.headers["location"]) == (303, f"/review/{exam[0].exam}")


def test_another_host_is_refused(client, at):
    assert client.ask(f"{at}/note", host="exam.example:80").status == 421


@pytest.mark.parametrize("origin", ["https://elsewhere.example", "null", "http://127.0.0.1:9"])
@pytest.mark.parametrize("route", ["decide", "undo", "sign", "end"])
def test_another_page_decides_nothing(client, at, exam, origin, route):
    number = len(exam[1].refresh())
    assert client.post(f"{at}/{route}", {"by": "x"}, Origin=origin).status == 403
    assert len(exam[1].refresh()) == number


def test_a_form_of_another_page_decides_nothing(client, at):
    assert client.post(f"{at}/undo", {"by": "x"}, Content_Type="text/plain").status == 400


# -- what may be asked for --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "exam_id",
    ["..", "%2e%2e", "..%2f..%2fetc", "%2fetc%2fpasswd", "2026-11-25T091530-k7qx", "x" * 3000, "%00", "%C3%A9"],
)
@pytest.mark.parametrize("route", ["/note", "/sound?from=0&to=1", "/check"])
def test_no_other_folder_is_reached(client, exam, exam_id, route):
    reply = client.ask(f"/review/{exam_id}{route}")
    assert reply.status in (400, 404) and "root:" not in reply.text


def test_no_key_reaches_a_file(client, at):
    assert client.ask(f"{at}/item/..%2f..%2fjournal.jsonl").status == 400


def test_an_oversized_body_is_refused(client, at):
    assert client.post(f"{at}/read", {"text": "x" * (2 << 20)}).status == 413


def test_words_that_are_too_long_are_refused(client, at):
    reply = client.post(f"{at}/read", {"text": "x" * 2001})
    assert reply.status == 400 and "2000" in reply.text


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{", b"null", b'{"action": "drop"}', b'{"action":"accept","item":5}', b'{"action":"undo"}',
             b'{"action":"accept","item":"u0.0","version":"","surprise":1}', b"\xff\xfe", b"[" * 5000]
)  # fmt: skip
def test_what_fits_no_decision_gets_one_plain_line(client, at, exam, body):
    number = len(exam[1].refresh())
    reply = client.post(f"{at}/decide", body)
    assert (reply.status, reply.text.count("\n"), len(exam[1].refresh())) == (400, 1, number)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e400", '"1e999"'])
def test_a_number_that_is_none_is_never_written(client, at, exam, number):
    shown = note(client, at)
    item = first(shown)
    wish = {
        "action": "change",
        "item": item["key"],
        "version": item["version"],
        "after": {**item["finding"], "degrees": 7},
    }
    body = json.dumps(wish).replace('"degrees": 7', f'"degrees": {number}')
    before = len(exam[1].refresh())
    assert client.post(f"{at}/decide", body.encode()).status == 400
    assert len(exam[1].refresh()) == before


@pytest.mark.parametrize("times", ["from=0&to=9999", "from=5&to=1", "from=-1&to=1", "from=a&to=b", "", "from=nan&to=1",
                                   "from=9e5&to=900001", "from=inf&to=inf"])  # fmt: skip
def test_no_sound_is_given_for_senseless_times(client, at, times):
    assert client.ask(f"{at}/sound?{times}").status == 400


# -- what is answered -------------------------------------------------------------------------------------------------


def test_the_sound_is_exactly_of_the_seconds_asked_for(client, at, exam):
    import http.client

    connection = http.client.HTTPConnection("127.0.0.1", client.server.port, timeout=10)
    connection.request("GET", f"{at}/sound?from=5.4&to=8.7", headers={"Cookie": client.cookie})
    with wave.open(io.BytesIO(connection.getresponse().read())) as sound:
        got = np.frombuffer(sound.readframes(sound.getnframes()), dtype="<i2")
        assert sound.getframerate() == 16_000
    with wave.open(str(exam[0].path / "sound-001.wav")) as whole:
        whole.setpos(round(5.4 * 16_000))
        wanted = np.frombuffer(whole.readframes(round(3.3 * 16_000)), dtype="<i2")
    assert np.array_equal(got, wanted)


def test_sound_that_is_gone_is_said_to_be(client, at, exam):
    (exam[0].path / "sound-001.wav").unlink()
    assert "not kept" in client.ask(f"{at}/sound?from=1&to=2").text


def test_a_card_has_the_words_in_their_sentence(client, at):
    card = json.loads(client.ask(f"{at}/item/u3.0").text)
    marked = " ".join(word["text"] for word in card["words"] if word["of"])
    assert marked == "Passive flexion one fifteen with a soft end feel."
    assert [word["text"] for word in card["words"] if word["unclear"]] == ["fifteen"]


def test_an_answer_to_a_decision_holds_only_what_changed(client, at):
    item = first(note(client, at))
    changed = json.loads(decide(client, at, item).text)["changed"]
    assert [one["key"] for one in changed] == [item["key"]]


def test_two_tabs_do_not_decide_over_each_other(client, at):
    item = first(note(client, at))
    decide(client, at, item, "remove")
    reply = decide(client, at, item, "accept")
    assert reply.status == 409 and "changed elsewhere" in json.loads(reply.text)["why"]


def test_typed_words_are_shown_before_they_count(client, at, exam):
    number = len(exam[1].refresh())
    found = json.loads(client.post(f"{at}/read", {"text": "left pivot shift negative"}).text)["findings"]
    assert [one["line"] for one in found] == ["Pivot shift: negative, left"] and len(exam[1].refresh()) == number


def test_a_changed_journal_is_told_of(client, at, exam):
    path = exam[1].path
    path.write_bytes(path.read_bytes().replace(b"patellar", b"achilles"))
    assert "line 8 of the journal" in json.loads(client.ask(f"{at}/check").text)["faults"][0]


def test_a_swapped_sound_file_is_told_of(client, at, exam):
    sound = exam[0].path / "sound-001.wav"
    sound.write_bytes(sound.read_bytes()[:-2000] + bytes(2000))
    assert json.loads(client.ask(f"{at}/check").text)["faults"] == ["sound-001.wav is not the sound that was recorded"]


def test_the_list_has_the_newest_first(client, data):
    doubtful_exam(data)
    began = [one["opened_at"] for one in listed(client)]
    assert len(began) == 2 and began == sorted(began, reverse=True)


def test_an_exam_that_was_cut_off_as_it_began_is_listed_with_its_trouble(client, data, exam):
    (data / "exams" / "2026-11-25T091530-k7qx").mkdir()
    assert [one["exam"] for one in listed(client) if one["trouble"]] == ["2026-11-25T091530-k7qx"]


def test_an_unreadable_exam_is_listed_with_its_trouble(client, data, exam):
    broken = data / "exams" / "2026-11-25T091530-k7qx"
    broken.mkdir()
    (broken / "journal.jsonl").write_text("garbage\n")
    assert [one["exam"] for one in listed(client) if one["trouble"]] == [broken.name]


@pytest.mark.parametrize("field", ["text", "patient"])
@pytest.mark.parametrize("value", ["' OR 1=1 --", '" OR 1=1', "%", "K-17' --", 'x" OR side : left'])
def test_a_search_is_only_text(client, exam, field, value):
    assert listed(client, **{field: value}) == [] and len(listed(client)) == 1


@pytest.mark.parametrize(
    "wanted",
    [
        {"side": "left' OR 1=1"}, {"region": "brain"}, {"state": "1"}, {"since": "yesterday"}, {"surprise": 1},
        {"text": "x" * 401}, {"patient": "x" * 41}, {"limit": 20_000}, {"text": "a " * 40},
    ],
    ids=str,
)  # fmt: skip
def test_a_search_that_cannot_be_gets_one_plain_line(client, exam, wanted):
    reply = client.post("/exams", wanted)
    assert (reply.status, reply.text.count("\n")) == (400, 1)


@pytest.mark.parametrize("after", ["../../etc/passwd", "2026-11-25T091530-k7qx", "' OR 1=1 --"])
def test_a_list_goes_on_behind_no_exam_that_there_is_not(client, exam, after):
    assert listed(client, after=after) == []
