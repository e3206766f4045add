"""Commands that serve the counter page, and set the PINs it asks for."""

from __future__ import annotations

import click

from counter.cli import open_shop
from labels.say import say


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
    server = make_server(folder, port, lan)
    port = int(server.effective_port)
    here = f"http://127.0.0.1:{port}/"
    click.echo(f"The counter is open at {here}  (stop it with Ctrl-C)")
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
        click.echo("The counter is shut. Slips on the tablets stay, and are booked later.")


def _tell_lan(addresses: list[str]) -> None:
    """The addresses for the tablets, one of them to be photographed, and how to trust them."""
    import segno

    if not addresses:
        click.echo("This computer is on no network that a tablet could reach.", err=True)
        return
    click.echo("On a tablet in the same network open:")
    for address in addresses:
        click.echo(f"  {address}")
    segno.make(addresses[0], error="m").terminal(compact=True)
    click.echo(
        "Only this address, shown here, is your shop: type it or photograph it, do not follow a\n"
        "link. The way from tablet to computer is not encrypted, so use the shop's own network\n"
        "with its own password, never the one for guests. Everybody signs in with a PIN."
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
        click.echo(f"{found.name} has no PIN any more.")
        return
    typed = click.prompt("PIN, 4 to 12 digits", hide_input=True, confirmation_prompt=True)
    set_pin(shop.desk, person, typed)
    click.echo(f"{found.name}, {found.role}, has a new PIN.")
