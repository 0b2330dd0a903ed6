"""``chargewright serve``: the workshop's jobs on every phone of the house."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from chargewright.cli.open import FILE, card_argument_or_none, workshop_options
from chargewright.cli.store import make_folder
from chargewright.errors import InputError
from chargewright.jobs.place import STORE_VARIABLE, default_store

if TYPE_CHECKING:
    from chargewright.web.settings import Settings

PORT = 8321
STORE_HELP = f"The store's file; default {STORE_VARIABLE}, else one in your data folder."


@click.command(short_help="Open the app: jobs on this machine and the workshop's phones.")
@card_argument_or_none
@click.option("--store", type=FILE, envvar=STORE_VARIABLE, help=STORE_HELP)
@click.option("--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="TCP.")
@click.option("--network", is_flag=True, help="Let the workshop's phones in, after pairing.")
@click.option("--name", "names", multiple=True, help="Another host name it answers to; repeat.")
@click.option("--tls", is_flag=True, help="Encrypt, with a certificate made here if need be.")
@click.option("--open", "show", is_flag=True, help="Try to open a browser.")
@click.option("--workers", type=click.IntRange(1, 32), help="Computing processes; default: cores.")
@workshop_options
def serve(
    card: Path | None,
    store: Path | None,
    port: int,
    network: bool,
    names: tuple[str, ...],
    tls: bool,
    show: bool,
    workers: int | None,
    checks_file: Path | None,
    prices: Path | None,
) -> None:
    """Serve the app until Ctrl-C; with CARD, that job is put into the store and shown.

    Only this machine is served unless --network is given.
    """
    from chargewright.jobs.case import Workshop
    from chargewright.web.app import create_app
    from chargewright.web.pairing import load_key
    from chargewright.web.serve import listen, open_browser, own_addresses
    from chargewright.web.serve import serve as run
    from chargewright.web.settings import Settings
    from chargewright.web.tls import certificate_files, make_certificate

    path = store or default_store()
    make_folder(path)
    page = "" if card is None else f"#/job/{_put(card, path)}"
    addresses = (*own_addresses(), *names) if network else names
    sock = listen("0.0.0.0" if network else "127.0.0.1", port)
    port = int(sock.getsockname()[1])
    certificate = None
    if tls:
        chain, key, authority = certificate_files(path)
        if not (chain.exists() and key.exists()):
            make_certificate(path, addresses)
        certificate = (chain, key)
        click.echo(f"Trust {authority} on each phone, once.")
    settings = Settings(
        store=path,
        workshop=Workshop(checks_file=checks_file, prices_file=prices),
        names=addresses,
        port=port,
        key=load_key(path) if network else None,
        secure=tls,
        workers=workers or min(os.cpu_count() or 1, 4),
    )
    app = create_app(settings)
    home = f"{'https' if tls else 'http'}://127.0.0.1:{port}/{page}"

    def ready() -> None:
        _tell(settings, home, app.state.context.pairing)
        if show:
            open_browser(home)

    run(app, sock, ready=ready, certificate=certificate)
    click.echo("Stopped.")


def _put(card: Path, store: Path) -> str:
    """Put a card into the store, joined with what is there; return its job's id."""
    from chargewright.errors import ChargewrightError
    from chargewright.jobs.codec import card_dict
    from chargewright.jobs.files import load_card
    from chargewright.jobs.store import JobStore

    found = load_card(card)
    with JobStore(store) as opened, contextlib.suppress(ChargewrightError):
        # what cannot be joined was worked on here since: the store's is shown
        opened.import_job(card_dict(found), on_conflict="merge")
    return found.id


def _tell(settings: Settings, home: str, pairing: object) -> None:
    click.echo(f"Chargewright is at {home}")
    if pairing is None:
        click.echo("For this machine only; --network lets the workshop's phones in.")
    else:
        for address in settings.addresses:
            click.echo(f"Phones of the workshop: {address}")
        click.echo(f"They are asked for this code once: {pairing.code()}")  # type: ignore[attr-defined]
        click.echo("Menu, Pair a phone shows it with a picture to scan, and the next code.")
    click.echo("Ctrl-C stops it; everything entered is saved already.")


@click.command(short_help="Make the certificate for serve --tls anew.")
@click.option("--store", type=FILE, envvar=STORE_VARIABLE, help=STORE_HELP)
@click.option("--name", "names", multiple=True, help="Another host name it is for; repeat.")
def certificate(store: Path | None, names: tuple[str, ...]) -> None:
    """Make a certificate for this machine's addresses, valid for 397 days."""
    from chargewright.web.serve import own_addresses
    from chargewright.web.tls import make_certificate

    path = store or default_store()
    make_folder(path)
    authority = make_certificate(path, (*own_addresses(), *names))
    click.echo(f"Made. Trust {authority} on each phone, once.")


@click.command("forget-phones", short_help="Make every paired phone pair again.")
@click.option("--store", type=FILE, envvar=STORE_VARIABLE, help=STORE_HELP)
def forget_phones(store: Path | None) -> None:
    """Forget all paired phones; a running service forgets them when it starts again."""
    from chargewright.web.pairing import key_file

    path = key_file(store or default_store())
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{path}: cannot be removed ({error.strerror})") from error
    click.echo("All phones have to pair again.")
