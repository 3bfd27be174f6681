"""``flightmark serve``: the pages, on this machine unless told otherwise."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Any

from app import exits
from app.folders import DATABASE_VARIABLE, FOLDER_VARIABLE, STORE_VARIABLE

HOST, PORT = "127.0.0.1", 8520


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "serve",
        help="start the pages for athletes and coaches",
        description="Starts the pages. The first visit makes the coach of this machine.",
    )
    parser.add_argument("--host", default=HOST, help=f"address to listen on; default {HOST}")
    parser.add_argument("--port", type=int, default=PORT, help=f"default {PORT}")
    parser.add_argument(
        "--folder",
        type=Path,
        metavar="DIR",
        help="data folder to use, such as the demo's; default: your own",
    )
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="Dask scheduler whose workers measure, such as tcp://10.0.0.5:8786; they need the "
        "same flightmark, database and store. Default: this machine's cores",
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace, _measuring: object = None) -> int:
    """Serve until stopped."""
    if arguments.folder is not None:
        os.environ[FOLDER_VARIABLE] = str(arguments.folder)
        for other in (DATABASE_VARIABLE, STORE_VARIABLE):  # they would win over the folder
            os.environ.pop(other, None)
    try:
        import uvicorn

        from app.web.asgi import make_app
    except ImportError as error:
        print(f"flightmark serve: {error}. Install flightmark[web].", file=sys.stderr)
        return exits.NOT_READ_OR_WRITTEN
    from app.web.services import services

    app = make_app(scheduler=arguments.scheduler)
    is_new = not services().desk.people.has_accounts()
    address = f"http://{arguments.host}:{arguments.port}"
    print(f"flightmark: {address}{'/first' if is_new else ''}  (Ctrl+C stops it)")
    if is_new:
        print("Nobody has an account yet: the first visit from this machine makes the coach.")
    uvicorn.run(
        app, host=arguments.host, port=arguments.port, lifespan="on", log_level="warning",
        server_header=False,
    )  # fmt: skip
    return exits.MEASURED
