"""A live exam: the session, what is shown of it, and the page that shows it."""
