"""The record of one examination: an append-only journal of what was heard and what people did, and its sound."""
