"""Keeping exams: an index to find them by, how long sound stays, sealing, removal, and moving them elsewhere whole."""
