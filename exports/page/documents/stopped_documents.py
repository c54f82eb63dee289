"""What the page is told where the computing itself has failed. Loads nothing: the server says it too."""

from __future__ import annotations

from typing import Any

SOLID_FAILED = "solid.failed"
"""Code of what stands in the list where there is no solid to be checked; it is no check's finding."""


def fill_problem(kind: str, headline: str, told: list[dict[str, Any]]) -> dict[str, Any]:
    """Return a problem that has no place in the plan, no remedy, and no plan of its own.

    Parameters
    ----------
    kind : {"file", "layout", "edit", "stopped"}
    headline : str
    told : list of dict
        ``line``, ``key`` and ``text`` of each sentence.

    Returns
    -------
    dict
        Ready for JSON.
    """
    return {
        "kind": kind,
        "headline": headline,
        "told": told,
        "remedies": [],
        "at": None,
        "channels": [],
        "cells": [],
        "plan": None,
    }


def stopped_document(why: str) -> dict[str, Any]:
    """Return the problem of a plan that could not be computed.

    Parameters
    ----------
    why : str
        One sentence.
    """
    return fill_problem("stopped", "the plan could not be computed", [{"line": 0, "key": "", "text": why}])


def failed_solid_document(number: int, why: str) -> dict[str, Any]:
    """Return what the list of findings says where the solid could not be built or checked.

    Parameters
    ----------
    number : int
        Its place in the list.
    why : str
        One sentence or more.
    """
    return {
        "number": number,
        "severity": "fault",
        "code": SOLID_FAILED,
        "text": why,
        "remedy": "change what it names; else make the panel simpler where the last edit was",
        "source": "",
        "accepted": "",
        "value": "",
        "limit": "",
        "where": "",
        "at": None,
        "features": [],
        "things": [],
        "changes": None,
        "of": "solid",
    }


def unmade_document(withheld: str) -> dict[str, Any]:
    """Return what is told of a run that wrote nothing.

    Parameters
    ----------
    withheld : str
        Why.
    """
    return {"files": [], "all": "", "withheld": withheld, "findings": []}
