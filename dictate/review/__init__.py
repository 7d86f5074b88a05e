"""Reviewing a note after the exam: the doubtful fields first, worst first; signing; what the corrections teach."""
