"""What a first drag needs, loaded and used once on a small panel, so that the first is as quick as the next."""

from __future__ import annotations

from layouts.file.read import read_panel
from layouts.panels.catalogue import TEMPLATE, demo_path
from layouts.replan.allowed_places import find_allowed
from layouts.replan.port_places import pin_port, with_port
from layouts.replan.quick_plan import quick_plan


def warm_up() -> None:
    """Plan a small panel, move a port of it, and ask where port, tank and pump may go.

    Of the template, not of the file at hand: it takes the same 0.2 s whatever the file is, and nothing waits longer.
    Compiled functions are kept on disk: only the first time on a machine it takes as long as to compile them.
    """
    panel = read_panel(demo_path(TEMPLATE))
    plan = quick_plan(panel, None)
    port = panel.parts[0].inlet
    nodes = find_allowed(panel, plan.laid, f"port:{port.name}").nodes
    find_allowed(panel, plan.laid, "pump")
    find_allowed(panel, plan.laid, "tank")
    quick_plan(with_port(panel, pin_port(port, nodes[0])), plan.laid)
