"""``chassis-gen cache``: what was made before."""

from __future__ import annotations

import click

from chassis_gen.cli.session import PASS, Session, json_option

_MIB = 2**20


@click.command("cache")
@click.option("--clear", is_flag=True, help="Throw all of it away; builds in out/ stay.")
@json_option
@click.pass_obj
def command(session: Session, clear: bool) -> int:
    """Show how large the cache of solids is, or clear it.

    It lies in out/.cache/, holds nothing that can't be made again, and what was used longest ago goes
    first when its bound is reached.
    """
    from chassis_gen.cache.store import BOUND_BYTES, Store

    store = Store(session.workspace.cache_dir())
    size = store.clear() if clear else store.size()
    document = {
        "status": "cleared" if clear else "ok",
        "folder": "out/.cache",
        "entries": size.entries,
        "bytes": size.bytes,
        "bound_bytes": BOUND_BYTES,
    }
    found = f"{size.entries} entries, {size.bytes / _MIB:.1f} MiB"
    said = f"Cleared: {found}." if clear else f"out/.cache: {found} of at most {BOUND_BYTES / _MIB:.0f} MiB."
    session.show(document, lambda: said)
    return PASS
