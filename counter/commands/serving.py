"""Commands that serve the counter page, and set the PINs it asks for."""

from __future__ import annotations

import click

from counter.cli import echo, open_shop, shown, speak_of
from labels.say import Said, say, term


@click.command()
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8765,
    show_default=True,
    help="Port; 0 takes any free one.",
)
@click.option("--lan", is_flag=True, help="Also for tablets on the shop's own network.")
@click.option("--open", "show", is_flag=True, help="Open the page in this computer's browser.")
@click.pass_context
def serve(ctx: click.Context, port: int, lan: bool, show: bool) -> None:
    """Serve the counter page to a browser on this computer."""
    from counter.web.server import lan_addresses, make_server

    folder = ctx.find_root().obj
    speak_of(folder)
    server = make_server(folder, port, lan)
    port = int(server.effective_port)
    here = f"http://127.0.0.1:{port}/"
    echo(say("The counter is open at {address}  (stop it with Ctrl-C)", address=here))
    if lan:
        _tell_lan([f"http://{address}:{port}/" for address in lan_addresses()])
    if show:
        import webbrowser

        webbrowser.open(here)
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()
        echo(say("The counter is shut. Slips on the tablets stay, and are booked later."))


def _tell_lan(addresses: list[str]) -> None:
    """The addresses for the tablets, one of them to be photographed, and how to trust them."""
    import segno

    if not addresses:
        echo(say("This computer is on no network that a tablet could reach."), err=True)
        return
    echo(say("On a tablet in the same network open:"), *(Said(f"  {one}") for one in addresses))
    segno.make(addresses[0], error="m").terminal(compact=True)
    echo(
        say(
            "Only this address, shown here, is your shop: type it or photograph it, do not follow"
            " a\nlink. The way from tablet to computer is not encrypted, so use the shop's own"
            " network\nwith its own password, never the one for guests. Everybody signs in with a"
            " PIN."
        )
    )


@click.command()
@click.argument("person")
@click.option("--remove", is_flag=True, help="Take the PIN away.")
@click.pass_context
def pin(ctx: click.Context, person: str, remove: bool) -> None:
    """Set the PIN of PERSON (a key of the catalogue's staff) for the counter page."""
    from counter.shop.staffing import person_named, remove_pin, set_pin

    shop = open_shop(ctx)
    found = person_named(shop.desk, person, say("set a PIN for '{text}'", text=person))
    if remove:
        remove_pin(shop.desk, person)
        echo(say("{name} has no PIN any more.", name=found.name))
        return
    ask, again = shown(say("PIN, 4 to 12 digits")), shown(say("Repeat for confirmation"))
    typed = click.prompt(ask, hide_input=True, confirmation_prompt=again)
    set_pin(shop.desk, person, typed)
    echo(say("{name}, {role}, has a new PIN.", name=found.name, role=term(found.role)))
