"""Work beside the screen's own loop: begun when its turn comes, not when it is asked for.

So work that is called off before its turn (a newer look-up took its place, the dashboard closes) was
never begun, and nothing of it is left waiting for ever.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any, cast

from textual.dom import DOMNode
from textual.worker import Worker

Work = Callable[[], Coroutine[Any, Any, object]]


def work_on(
    node: DOMNode, work: Work, group: str, *, alone: bool = False, fatal: bool = False
) -> Worker[None]:
    """Run work in a group of a screen or the app; ``alone`` calls off what else is of the group.

    ``fatal``: a fault of ours in it ends the dashboard instead of being told in a sentence.
    """
    begun = cast(Callable[[], Coroutine[None, None, None]], work)
    run: Callable[..., Worker[None]] = node.run_worker
    return run(begun, group=group, exclusive=alone, exit_on_error=fatal)
