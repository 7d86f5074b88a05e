"""The files of the review pages: plain HTML, CSS and JavaScript modules, no build step."""
