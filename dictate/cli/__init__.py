"""The `dictate` command."""
