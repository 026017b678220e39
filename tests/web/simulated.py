"""Pages without a browser: a simulated user on the pages of a store."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor

from nicegui import core
from nicegui.testing import User
from nicegui.testing.user_simulation import user_simulation

from tussock.store import Store
from tussock.web.app import Settings, register_pages
from tussock.web.desk import Desk
from tussock.web.jobs import Jobs


def simulate(store: Store, job: Callable[[User, Desk], Awaitable[None]]) -> None:
    """Run what a user does on the pages of a store, with the desk that they stand on."""

    async def run() -> None:
        async with user_simulation() as user:
            desk = Desk(store)
            jobs = Jobs(desk)
            register_pages(desk, jobs, Settings(author="Anna"))
            try:
                await job(user, desk)
            finally:
                jobs.close()

    ours = {name: module for name, module in sys.modules.items() if name.partition(".")[0] == "tussock"}
    try:
        with ThreadPoolExecutor(1) as thread:  # a browser of other tests may hold the event loop of this one
            thread.submit(asyncio.run, run()).result()
    finally:  # the simulation forgets the modules of the pages, and leaves an app that takes no further one
        sys.modules.update(ours)
        core.app.middleware_stack = None
        core.app.user_middleware.clear()
