"""What opens a depot: from the environment, else from the platform's keyring. Kept, written and told nowhere.

In the keyring an entry's service is ``herdsync`` and the depot's account (as ``herdsync s3://bucket`` or
``herdsync sftp://user@host:port``), its name the variable's, so that the keyring's own command sets it.
"""

from __future__ import annotations

from herdsync.exchange.places import Place
from herdsync.faults import Refused
from herdsync.wall import environment

SERVICE = "herdsync"


def credential(place: Place, variable: str) -> str | None:
    """The value of an environment variable, or of the keyring's entry in its stead; None for neither.

    Raises Refused where the keyring is there but does not open.
    """
    told = environment(variable)
    if told is not None:
        return told
    try:
        import keyring
        from keyring import errors
    except ImportError:
        return None
    try:
        return keyring.get_password(service_of(place), variable) or None
    except errors.NoKeyringError:
        return None
    except errors.KeyringError as fault:
        raise Refused(
            f"The keyring of this laptop does not open ({type(fault).__name__}).",
            f"Unlock it and try again, or set {variable} in the environment of this program.",
        ) from fault


def service_of(place: Place) -> str:
    """What the keyring knows a depot's account by."""
    return f"{SERVICE} {place.account}"


def how_to_give(place: Place, *variables: str) -> str:
    """The sentence that says where these are looked for."""
    names = " and ".join(variables)
    return (
        f"Set {names} in the environment of this program, or keep them in this laptop's keyring (pip "
        f"install 'herdsync[keyring]', then: keyring set '{service_of(place)}' {variables[0]})."
    )
