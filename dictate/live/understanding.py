"""What the recogniser tells, written into the journal, folded into the note, and shown."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace

from dictate.favour import favoured_terms
from dictate.journal.events import Gap, HeardUtterance, Opened
from dictate.language.reader import Reader
from dictate.language.state import Entry
from dictate.live.answers import answer
from dictate.live.ear import FAILED_ON, OWN_VOICE, heard_to_s
from dictate.live.ledger import Ledger
from dictate.live.picture import draft_note, picture, touched
from dictate.live.speech import Speaker, SpeechError
from dictate.live.view import TRACE_LENGTH, SoundName, View
from dictate.note.describe import quoted
from dictate.note.fold import Heard, fold, hear, start
from dictate.recognise.events import Utterance


class Understanding:
    """The fold of a running exam. Fed by the recogniser's thread (`dictate.live.ear.Listener`), looked at by others."""

    def __init__(
        self, *, reader: Reader, opened: Opened, ledger: Ledger, play: Callable[[SoundName], None],
        speaker: Speaker | None = None, said: Sequence[Utterance] = (),
    ) -> None:  # fmt: skip
        """Begin an exam, or go on with one.

        Args:
            reader: reads the words.
            opened: what is known of the exam.
            ledger: takes what is heard.
            play: is told of the sounds that tell the speaker what came of an utterance.
            speaker: says answers aloud.
            said: what was heard of the exam before.
        """
        self.reader, self._opened, self._ledger, self._play = reader, opened, ledger, play
        self.speaker = speaker
        self._lock = threading.Lock()
        self._heard = fold(said, reader, heard=start(reader, region=opened.region, injured_side=opened.injured_side))
        self._fresh: tuple[Entry, ...] = self._heard.state.entries[-1:]  # what was added or changed last
        self._fresh_seen = True  # it is in a view
        self._moved_at = 0  # number of the utterance that announced the section
        self._trace = deque(said, maxlen=TRACE_LENGTH)
        self._partial = ""
        self._answer: str | None = None
        self._shown: Heard | None = None  # what the last view was made of
        self.notice: str | None = None  # one line that stays until something else is heard

    @property
    def so_far(self) -> Heard:
        """The fold over all that was heard."""
        return self._heard

    def favoured(self) -> Sequence[str]:
        """Return the terms to favour where the exam stands."""
        return favoured_terms(self._heard.state.context, self.reader.lexicon)

    def heard(self, utterance: Utterance) -> Sequence[str]:
        """Write an utterance into the journal, fold it into the note, and return the terms to favour from now on."""
        if self._is_own_voice(utterance):
            self._leave_out(utterance)
            return self.favoured()
        self._ledger.append(HeardUtterance(utterance=utterance))
        before = self._heard
        after = hear(before, utterance, self.reader)
        did = touched(before, after)
        answered = self._answer_to(utterance, before, after)
        with self._lock:
            self._heard, self._partial, self.notice = after, "", None
            self._trace.append(utterance)
            if did.new_section:
                self._moved_at = before.state.utterances
            if did.entries:
                self._fresh = did.entries if self._fresh_seen else (*self._fresh, *did.entries)
                self._fresh_seen = False
                self._answer = None
            self._answer = answered or self._answer
        if answered:
            self._say(answered)
        if did.entries:
            self._play("unsure" if did.doubtful else "understood")
        elif did.new_section:
            self._play("section")
        return self.favoured()

    def heard_partial(self, text: str) -> None:
        """Show the words so far."""
        self._partial = text

    def passed_over(self, from_s: float, to_s: float) -> None:
        """Note sound that cannot be recognised."""
        self._ledger.append(Gap(from_s=round(from_s, 3), to_s=round(to_s, 3), why=FAILED_ON))
        self.notice = f"The last {to_s - from_s:.0f} seconds could not be recognised: please say them again."

    def shown_in(self, view: View) -> View:
        """Return a view with all that follows from the words; what did not change is not made anew."""
        with self._lock:
            heard, fresh, trace = self._heard, self._fresh, tuple(self._trace)
            partial, answered, moved_at = self._partial, self._answer, self._moved_at
            self._fresh_seen = True
        if heard is not self._shown:
            note = draft_note(heard, self._opened, self.reader.lexicon)
            view = picture(view, heard, note, fresh=fresh, trace=trace, moved_at=moved_at)
            self._shown = heard
        return replace(view, partial=partial, answer=answered)

    # -- what the program says itself ----------------------------------------------------------------------------------

    def _answer_to(self, utterance: Utterance, before: Heard, after: Heard) -> str | None:
        """Return what the program says to a control word."""
        control = self.reader.controls.control_of([word.text for word in utterance.words])
        if control is None or (before.standing_by and control.kind != "resume"):
            return None
        note = draft_note(after, self._opened, self.reader.lexicon)
        return answer(control, note=note, heard=after, before=before, last_answer=self._answer)

    def _say(self, text: str) -> None:
        if self.speaker is None:
            return
        try:
            self.speaker.speak(text)
        except SpeechError as error:  # what it would say is shown all the same
            self.notice = str(error)

    def _is_own_voice(self, utterance: Utterance) -> bool:
        if self.speaker is None or not utterance.words:
            return False
        return self.speaker.is_ours(utterance.words[0].start_s, utterance.words[-1].end_s)

    def _leave_out(self, utterance: Utterance) -> None:
        """Note that words were heard while the program spoke: most likely its own, but a person is told of them."""
        from_s, to_s = utterance.words[0].start_s, heard_to_s(utterance)
        self._ledger.append(Gap(from_s=round(from_s, 3), to_s=round(to_s, 3), why=OWN_VOICE))
        with self._lock:
            self._partial = ""
            self.notice = f"Not taken, as the program was speaking: {quoted(utterance.text)}"
