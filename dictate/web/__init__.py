"""The server that every page stands on: loopback only, a token on every request, one thread beside the program.

    from dictate.web.answers import json_answer, read_json
    from dictate.web.routes import Route, resources
    from dictate.web.server import serve
    from dictate.web.socket import Peer, Socket

    async def note(request: web.Request) -> web.StreamResponse:      # runs in the server's own thread and event loop
        return json_answer(await asyncio.to_thread(journal.note))    # whatever reads a disk belongs in a thread

    async def accept(request: web.Request) -> web.StreamResponse:
        wish = await read_json(request, Wish)                        # a pydantic model; what does not fit is a 400
        ...                                                          # a DictateError raised here is a 400 with its line
        return json_answer({"done": True})

    socket = Socket("/review/socket", text=on_text)                  # async def on_text(peer, message: dict) -> None
    server = serve([
        *resources("dictate.review.page", {"/": "review.html", "/review.js": "review.js", "/review.css": "review.css"}),
        Route("GET", "/note", note),
        Route("POST", "/accept", accept),
        socket.route,
    ])
    print(server.url)                                                # http://127.0.0.1:43211/?token=…
    socket.broadcast({"type": "note", …})                            # from any thread
    server.stop()                                                    # or: with serve(…) as server: …

What a page has to know: scripts and styles are files of their own (the policy of content allows nothing inline, no
`style` attributes, no `innerHTML`: build nodes and set `textContent`; `element.style.x = …` from a script is allowed);
a POST is sent with `fetch` to the page's own address. See `guard.py` for what is refused, and why.

The modules import `aiohttp`, so nothing but a command that shows a page imports them.
"""
