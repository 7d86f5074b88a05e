"""text"""
from dictate.note.model import Note


def text_of(note: Note) -> str:
    return ""
