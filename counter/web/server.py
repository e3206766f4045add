"""The server: waitress over the app, on this computer or on the shop's own network."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from counter.errors import Refused
from counter.shop import Shop
from counter.shop.staffing import open_secret, owner_has_pin, pins_from_elsewhere
from counter.web.app import LOCAL, create_app
from labels.say import Said, say

PORT = 8765
THREADS = 8


def lan_addresses() -> list[str]:
    """This computer's own addresses on its networks; no packet is sent to find them."""
    found = set()
    with contextlib.suppress(OSError):
        ours = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        found |= {str(address[4][0]) for address in ours}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Connecting a datagram socket only asks for a route; the address is for documentation.
            probe.connect(("192.0.2.1", 9))
            found.add(probe.getsockname()[0])
        except OSError:
            pass
    return sorted(a for a in found if not a.startswith("127."))


def hosts_for(lan: bool) -> frozenset[str]:
    """The names the page answers to."""
    if not lan:
        return LOCAL
    name = socket.gethostname().lower()
    return LOCAL | {*lan_addresses(), name, f"{name}.local"}


def make_server(
    folder: Path, port: int = PORT, lan: bool = False, clock: Callable[[], datetime] | None = None
) -> Any:
    """A waitress server over the shop in ``folder``, listening but not yet running.

    Refused with ``lan`` while no owner has a PIN, and where the port is taken.
    """
    from waitress.server import create_server

    shop = Shop.open(folder, clock)
    if lan and not owner_has_pin(shop.desk):
        why = say("no owner has a PIN yet, so anybody could sell and close")
        if pins_from_elsewhere(shop.desk):
            why = say("no PIN fits on this computer, since copies carry no key for PINs")
        raise Refused(
            say("serve to the shop's network"), why, say("Set one with `counter pin PERSON`")
        )
    app = create_app(
        shop, open_secret(folder), hosts_for(lan), lambda: Shop.open(folder, clock), lan
    )
    try:
        server = create_server(
            app,
            host="0.0.0.0" if lan else "127.0.0.1",
            port=port,
            threads=THREADS,
            ident="counter",
            max_request_body_size=app.config["MAX_CONTENT_LENGTH"] + 65536,
            clear_untrusted_proxy_headers=True,
            channel_timeout=60,
        )
        app.watch.start()
        return server
    except OSError as error:
        raise Refused(
            say("serve on port {n}", n=port),
            Said(str(error.strerror or error)),
            say("Is it running already? Name another port with --port"),
        ) from None
