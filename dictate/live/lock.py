"""One program at a time listens to an exam; the lock itself stands with the journal, for whoever has to know."""

from dictate.journal.lock import ExamLock as ExamLock
from dictate.journal.lock import is_running as is_running
