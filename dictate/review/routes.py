"""What the review pages ask for, and what they are answered."""

from __future__ import annotations

import asyncio
from dataclasses import asdict
from threading import Lock
from typing import Any

from aiohttp import web
from pydantic import BaseModel, ConfigDict, Field

from dictate.contract import Finding
from dictate.journal.events import now
from dictate.journal.exam import ExamFolder
from dictate.journal.signing import check
from dictate.journal.sound import wav_of
from dictate.review.actions import Decision, Impossible
from dictate.review.alternatives import Chooser
from dictate.review.describe import words_of_finding
from dictate.review.desk import Desk, OpenExam, Stale, Standing
from dictate.review.exams import ExamList, Wanted
from dictate.review.learn import Lessons, Offer
from dictate.review.learned import Learned
from dictate.review.sign import Signature
from dictate.review.typed import Typed, read_typed
from dictate.review.views import card_view, change_view, note_view, offer_view
from dictate.web.answers import json_answer, read_json
from dictate.web.routes import Route, resources

LONGEST_SOUND_S = 60.0
PAGE_FILES = {
    "/": "list.html", "/list.js": "list.js", "/find.js": "find.js", "/learn.js": "learn.js",
    "/review.css": "review.css", "/main.js": "main.js", "/api.js": "api.js",
    "/card.js": "card.js", "/note.js": "note.js", "/form.js": "form.js", "/dom.js": "dom.js", "/sound.js": "sound.js",
    "/sign.js": "sign.js", "/review/{exam}": "exam.html",
}  # fmt: skip


class By(BaseModel):
    """Who asks for something to be undone."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(default="", max_length=120)
    addendum: bool = False


class Lesson(BaseModel):
    """Whether to learn what is offered."""

    model_config = ConfigDict(extra="forbid")

    offer: str = Field(max_length=40)
    accept: bool
    by: str = Field(default="", max_length=120)


class ReviewRoutes:
    """The answers of one server. Whatever reads a disk or the words runs in a thread of its own."""

    def __init__(self, desk: Desk, exams: ExamList, *, reviewer: str = "") -> None:
        self._desk, self._exams, self._reviewer = desk, exams, reviewer
        self._chooser = Chooser(desk.reader, desk.labels)
        self._learned = Learned(desk.data)
        self._lessons = Lessons(desk.reader)
        self._learning = Lock()
        self._just_learned: set[str] = set()  # this run still reads with the lexicon that it began with

    def routes(self) -> list[Route]:
        """Return all routes of the review pages."""
        return [
            *resources("dictate.review.page", PAGE_FILES),
            Route("POST", "/exams", self.exams),
            Route("GET", "/labels", self.label_lists),
            Route("GET", "/learn", self.learn),
            Route("POST", "/learn", self.decide_learning),
            Route("GET", "/review/{exam}/note", self.note),
            Route("GET", "/review/{exam}/item/{key}", self.card),
            Route("GET", "/review/{exam}/sound", self.sound),
            Route("GET", "/review/{exam}/check", self.check),
            Route("GET", "/review/{exam}/events", self.events),
            Route("POST", "/review/{exam}/read", self.read),
            Route("POST", "/review/{exam}/decide", self.decide),
            Route("POST", "/review/{exam}/undo", self.undo),
            Route("POST", "/review/{exam}/redo", self.redo),
            Route("POST", "/review/{exam}/end", self.end),
            Route("POST", "/review/{exam}/sign", self.sign),
        ]

    async def exams(self, request: web.Request) -> web.StreamResponse:
        """A part of the list. What is looked for comes in the body: a pseudonym has no place in an address."""
        wanted = await read_json(request, Wanted)
        part = await asyncio.to_thread(self._exams.part, wanted)
        shown = [{**asdict(one), "opened_at": one.opened_at.isoformat()} for one in part.exams]
        return json_answer({"exams": shown, "further": part.further, "sealed": part.sealed})

    async def label_lists(self, request: web.Request) -> web.StreamResponse:
        """The labels of the lexicon, for the form."""
        return json_answer({**asdict(self._desk.labels), "reviewer": self._reviewer})

    async def learn(self, request: web.Request) -> web.StreamResponse:
        """What the corrections would teach."""
        found = await asyncio.to_thread(self._offers)
        return json_answer({"offers": [offer_view(offer) for offer in found], "folder": str(self._learned.folder)})

    async def decide_learning(self, request: web.Request) -> web.StreamResponse:
        """Learn a mishearing, or never offer it again."""
        wish = await read_json(request, Lesson)

        def work() -> dict[str, Any]:
            with self._learning:
                offer = next((one for one in self._offers() if one.id == wish.offer), None)
                if offer is None:
                    raise Impossible("this is not offered any more; reload the page")
                if not wish.accept:
                    self._learned.decline(offer)
                    return {"done": f"“{offer.heard}” will not be offered again."}
                path = self._learned.accept(offer, by=wish.by, at=now())
                self._just_learned.add(offer.id)
                return {"done": f"Learned. {path} is used from the next start on; remove it to forget."}

        return json_answer(await asyncio.to_thread(work))

    def _offers(self) -> list[Offer]:
        folders = [ExamFolder.of(self._desk.data, exam) for exam in self._exams.corrected()]
        known = self._learned.declined() | self._just_learned
        return [offer for offer in self._lessons.offers(folders) if offer.id not in known]

    async def note(self, request: web.Request) -> web.StreamResponse:
        """The whole exam."""

        def work() -> dict[str, Any]:
            exam = self._exam(request)
            return note_view(exam, exam.standing())

        return json_answer(await asyncio.to_thread(work))

    async def card(self, request: web.Request) -> web.StreamResponse:
        """One finding with all that is needed to decide about it."""

        def work() -> dict[str, Any]:
            exam = self._exam(request)
            standing = exam.standing()
            item = standing.item(request.match_info["key"])
            if item is None:
                raise Stale("this finding is not in the exam any more; look at the note again")
            return card_view(item, standing, self._chooser, sound=_has_sound(exam, standing))

        return json_answer(await asyncio.to_thread(work))

    async def sound(self, request: web.Request) -> web.StreamResponse:
        """The sound of some seconds, as a WAV file."""

        def work() -> bytes:
            exam = self._exam(request)
            from_s, to_s = _seconds(request, "from"), _seconds(request, "to")
            if not 0 <= to_s - from_s <= LONGEST_SOUND_S:
                raise Impossible(f"sound is given for at most {LONGEST_SOUND_S:g} seconds at once")
            samples = exam.folder.sound_between(exam.standing().events, from_s=max(0.0, from_s), to_s=to_s)
            if samples is None:
                raise Impossible("the sound of this is not kept")
            return wav_of(samples)

        return web.Response(body=await asyncio.to_thread(work), content_type="audio/wav")

    async def check(self, request: web.Request) -> web.StreamResponse:
        """Whether the exam is as it was written. Reads all its sound, so it is asked for after the page is shown."""

        def work() -> dict[str, Any]:
            return {"faults": check(self._exam(request).folder.journal_path).faults}

        return json_answer(await asyncio.to_thread(work))

    async def events(self, request: web.Request) -> web.StreamResponse:
        """How far the journal has come."""

        def work() -> dict[str, Any]:
            return {"events": len(self._exam(request).standing().events)}

        return json_answer(await asyncio.to_thread(work))

    async def read(self, request: web.Request) -> web.StreamResponse:
        """What typed words would record."""
        typed = await read_json(request, Typed)

        def work() -> dict[str, Any]:
            standing = self._exam(request).standing()
            item = standing.item(typed.key) if typed.key else None
            now = standing.finding(item) if item else None
            findings = read_typed(typed, standing.said, self._desk.reader, now=now)
            return {"findings": [_read_view(finding, standing) for finding in findings]}

        return json_answer(await asyncio.to_thread(work))

    async def decide(self, request: web.Request) -> web.StreamResponse:
        """Do what the reviewer decided."""
        decision = await read_json(request, Decision)

        def work() -> web.Response:
            exam = self._exam(request)
            before = exam.standing()
            try:
                return json_answer(change_view(before, exam.decide(decision)))
            except Stale as error:
                return json_answer({"stale": True, "why": str(error)}, status=409)

        return await asyncio.to_thread(work)

    async def undo(self, request: web.Request) -> web.StreamResponse:
        """Take the latest decision back."""
        return await self._back(request, redo=False)

    async def redo(self, request: web.Request) -> web.StreamResponse:
        """Take the latest undo back."""
        return await self._back(request, redo=True)

    async def end(self, request: web.Request) -> web.StreamResponse:
        """Record the end of an exam that was cut off."""
        await read_json(request, By)

        def work() -> dict[str, Any]:
            exam = self._exam(request)
            return note_view(exam, exam.end())

        return json_answer(await asyncio.to_thread(work))

    async def sign(self, request: web.Request) -> web.StreamResponse:
        """Freeze the note under a person's name."""
        wish = await read_json(request, Signature)

        def work() -> web.Response:
            exam = self._exam(request)
            try:
                return json_answer(note_view(exam, exam.sign(wish)))
            except Stale as error:
                return json_answer({"stale": True, "why": str(error)}, status=409)

        return await asyncio.to_thread(work)

    async def _back(self, request: web.Request, *, redo: bool) -> web.StreamResponse:
        by = await read_json(request, By)

        def work() -> dict[str, Any]:
            exam = self._exam(request)
            before = exam.standing()
            act = exam.redo if redo else exam.undo
            after, edit = act(by=by.by, addendum=by.addendum)
            return {**change_view(before, after), "item": edit.item}

        return json_answer(await asyncio.to_thread(work))

    def _exam(self, request: web.Request) -> OpenExam:
        return self._desk.exam(request.match_info["exam"])


def _has_sound(exam: OpenExam, standing: Standing) -> bool:
    return any((exam.folder.path / event.file).is_file() for event in standing.events if event.kind == "sound")


def _read_view(finding: Finding, standing: Standing) -> dict[str, Any]:
    words = words_of_finding(finding, standing.note.exam.region)
    remarks = [doubt.detail for doubt in finding.doubts]
    return {
        "line": words.line, "section": finding.section.replace("_", " "), "remarks": remarks,
        "finding": finding.model_dump(by_alias=True, mode="json"),
    }  # fmt: skip


def _seconds(request: web.Request, name: str) -> float:
    try:
        value = float(request.query.get(name, ""))
    except ValueError:
        value = -1.0
    if not 0 <= value < 1e6:
        raise Impossible(f"{name}: give a time in seconds from the start of the exam")
    return value
