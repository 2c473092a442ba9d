"""How a farm comes to a laptop: founded, joined through a carrier, or restored from a backup."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

import msgspec
from msgspec import Struct

from herdsync import answers, meetings
from herdsync.acts.exporting import checked, take_farm
from herdsync.acts.papering import chunks_of
from herdsync.acts.stewarding import device_named
from herdsync.exchange import doorstep, lifeline, pairing
from herdsync.exchange.addresses import Address, address_in
from herdsync.exchange.apart import Opening
from herdsync.exchange.carriers import Memory, opened
from herdsync.exchange.taking import Taking
from herdsync.exchange.threshold import LET_IN_BY
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.kinds.ids import text_id
from herdsync.log.chain import Chains
from herdsync.log.entry import AUTHORITY, CRITICAL, NO_ID, RECORD_BYTES
from herdsync.log.recovery import ENTROPY_BYTES, entropy_of, recovery_key, words_of
from herdsync.log.signing import SigningKey
from herdsync.log.trust import (
    ADMIT,
    FOUND,
    HAND_OVER,
    KEEPER,
    MEMBERSHIP,
    REMOVE,
    Admitting,
    HandingOver,
    Removing,
)
from herdsync.log.writer import Act, Pen, next_entry
from herdsync.papers import outcomes
from herdsync.projections.plan import shipped_plan
from herdsync.projections.settings import DEFAULT_PLAN, check_setting
from herdsync.store import backup
from herdsync.store.database import FILE
from herdsync.store.keyring import (
    Secret,
    drop_pending,
    keep_pending,
    keep_secret,
    pending_of,
)
from herdsync.store.store import Stamp, Store
from herdsync.wall import Wall

SEED_BYTES = 32
NAME_LETTERS = 80


class NotAdmitted(Refused):
    """A laptop that asked to join has not been let in yet."""


def found(
    folder: Path,
    wall: Wall,
    *,
    name: str,
    keeper: str,
    device: str,
    prefix: str = "",
    zone: str = "UTC",
    letters: str = "dairy",
) -> answers.Founded:
    """A new farm in ``folder``, its first device and keeper, and the recovery words, shown once.

    Raises Refused where there is a farm already or a name or setting cannot stand.
    """
    for what, told in (("farm", name), ("keeper", keeper), ("device", device)):
        _check_name(what, told)
    first = {"zone": zone, "letters": letters} | ({"prefix": prefix} if prefix else {})
    for setting, value in first.items():
        _check(setting, value)
    if (folder / FILE).exists():
        raise Refused(f"There is a farm in {folder} already.", "Choose another folder with --farm.")
    entropy = wall.entropy(ENTROPY_BYTES)
    recovery = recovery_key(entropy)
    secret = Secret(NO_ID, wall.entropy(SEED_BYTES), wall.entropy(SEED_BYTES))
    key = secret.key()
    payload = {
        "farm": name,
        "keeper": keeper,
        "device": device,
        "seal": key.seal_public,
        "recovery": recovery.public,
        "recovery_seal": recovery.seal_public,
    }
    act = Act(FOUND, MEMBERSHIP, payload, flags=AUTHORITY | CRITICAL)
    pen = Pen(NO_ID, key, "", int(wall.now().timestamp() * 1000), wall.by_hand)
    founding = next_entry(Chains(lambda _: None), None, pen, act, wall.entropy(16), None)
    own = Secret(founding.id, secret.sign_seed, secret.seal_seed)
    Store.create(folder, founding, own).close()
    plan = shipped_plan(DEFAULT_PLAN)
    with Farm.open(folder, wall) as farm:
        for setting, value in (first | {"plan": plan.name, "plan-hash": plan.hash}).items():
            farm.set(setting, value)
    return answers.Founded(text_id(founding.id), text_id(key.public), words_of(entropy))


def join(
    folder: Path, wall: Wall, carrier: Path | str, *, keeper: str, device: str
) -> meetings.Joining:
    """Ask to join the farm whose steward reads ``carrier``; the code is read out to the steward.

    ``carrier`` is a folder or stick, a depot, or the host:port where the steward's laptop listens. Asking
    again before the answer keeps the request and its code. Raises Refused.
    """
    if (folder / FILE).exists():
        raise Refused(f"There is a farm in {folder} already.", "Choose another folder with --farm.")
    _check_name("keeper", keeper)
    _check_name("device", device)
    # A damaged note is as good as none: the laptop asks afresh.
    told = pending_of(folder)
    pending = pairing.Pending.decode(told) if told else None
    if pending is None or (pending.keeper, pending.device) != (keeper, device):
        asked_ms = int(wall.now().timestamp() * 1000)
        pending = pairing.pend(keeper, device, asked_ms, wall.entropy)
        keep_pending(folder, pending.encode())
    code, address = pairing.code_of(pending.secret), _listener_at(str(carrier))
    if address is not None:
        from herdsync.exchange import knock

        check = knock.ask(address, pending, wall.entropy)
        picture = pairing.picture_text(pending, str(address))
        return meetings.Joining(str(address), code, check, picture)
    with opened(str(carrier), Memory(), wall.entropy) as there:
        name = doorstep.leave_request(there.carrier, pending)
    return meetings.Joining(name, code)


def _listener_at(carrier: str) -> Address | None:
    """Where a laptop listens that a text names; None for a folder, a stick, a depot."""
    return None if Path(carrier).expanduser().is_dir() else address_in(carrier)


def exchange_joining(folder: Path, wall: Wall, carrier: Path | str) -> meetings.Exchanged | None:
    """The first exchange of a laptop that asked to join: take the welcome, then everything there.

    None where this laptop never asked for a farm in ``folder``. Raises Refused while nobody has
    admitted it yet.
    """
    told = pending_of(folder)
    if told is None or (folder / FILE).exists():
        return None
    pending = pairing.Pending.decode(told)
    welcome = _welcome(str(carrier), pending, wall)
    secret = Secret(welcome.farm, pending.sign_seed, pending.seal_seed)
    store = Store.create(folder, welcome.founding, secret)
    store.note(LET_IN_BY, welcome.admitter)
    store.close()
    drop_pending(folder)
    if _listener_at(str(carrier)) is None:
        with opened(str(carrier), Memory(), wall.entropy) as there:
            doorstep.withdraw_request(there.carrier, pending)
    with Farm.open(folder, wall) as farm:
        moved = farm.exchange(str(carrier))
        return msgspec.structs.replace(moved, joined=farm.name)


def _welcome(carrier: str, pending: pairing.Pending, wall: Wall) -> pairing.Welcome:
    """The welcome for a laptop that asked. Raises NotAdmitted where there is none yet."""
    address, why = _listener_at(carrier), ""
    if address is not None:
        from herdsync.exchange import knock

        welcome = knock.fetch(address, pending)
    else:
        with opened(carrier, Memory(), wall.entropy) as there:
            found = doorstep.find_welcome(there.carrier, pending)
        welcome = found.welcome
        why = "; ".join(f"{one.what}: {one.why}" for one in found.refused)
    if welcome is None:
        raise NotAdmitted(
            "This laptop has not been admitted yet." + (f" ({why})" if why else ""),
            "Read the code out to the steward, who runs 'herdsync admit', then exchange again.",
        )
    return welcome


def recover(
    folder: Path,
    wall: Wall,
    words: str,
    carrier: Path | str,
    *,
    keeper: str,
    device: str,
    remove: Sequence[str] = (),
) -> answers.Recovered:
    """Begin again with the recovery words: from a carrier alone, or in a restored or copied farm.

    This laptop is admitted afresh and becomes the steward; devices named in ``remove`` are put out,
    vouched for as far as what is here. Raises Refused where the words or names are wrong.
    """
    _check_name("keeper", keeper)
    _check_name("device", device)
    recovery = recovery_key(entropy_of(words))
    there = (folder / FILE).exists()
    with opened(str(carrier), Memory(), wall.entropy) as found:
        if there:
            store = Store(folder)
            farm = store.farm
        else:
            founding = lifeline.find(found.carrier, recovery, Path(carrier))
            farm = founding.id
        secret = Secret(farm, wall.entropy(SEED_BYTES), wall.entropy(SEED_BYTES))
        if not there:
            store = Store.create(folder, founding, secret)
        try:
            members = store.members()
            if members.recovery != recovery.public:
                raise Refused("These words rule another farm.", "Use the sheet of this farm.")
            Taking(found.carrier, Opening(store, recovery)).run(found.carrier.names())
            removed = _begin_again(store, recovery, secret, wall, keeper, device, remove)
        finally:
            store.close()
    with Farm.open(folder, wall) as begun:
        moved = begun.exchange(str(carrier))
    return answers.Recovered(text_id(farm), text_id(secret.key().public), removed, moved.received)


def _begin_again(
    store: Store,
    recovery: SigningKey,
    secret: Secret,
    wall: Wall,
    keeper: str,
    device: str,
    remove: Sequence[str],
) -> list[str]:
    """The recovery key's acts: admit this device, hand it the stewardship, put others out."""
    key = secret.key()
    members = store.members()
    put_out = [device_named(members, one) for one in remove]
    asked = b"herdsync/1/recovered\0" + recovery.public
    admitting = Admitting(
        key.public, key.seal_public, keeper, device, KEEPER, asked, key.sign(asked)
    )
    acts: list[tuple[str, Struct]] = [(ADMIT, admitting), (HAND_OVER, HandingOver(key.public))]
    stamp = Stamp("", int(wall.now().timestamp() * 1000), wall.by_hand, wall.entropy)
    # The key first: a steward whose key nobody holds would be written down for good.
    if store.device != key.public:
        keep_secret(key.public, secret)
    with store.overruling(recovery, stamp) as writing:
        chains = writing.view.log.chains
        for one in put_out:
            last = sorted(chain.tip[:RECORD_BYTES] for chain in chains.of_device(one.key))
            acts.append((REMOVE, Removing(one.key, last)))
        for verb, told in acts:
            payload = msgspec.to_builtins(told, builtin_types=(bytes,))
            writing.append(Act(verb, MEMBERSHIP, payload, flags=AUTHORITY | CRITICAL))
    if store.device != key.public:
        store.become(secret)
    return [one.device for one in put_out]


def unfold(file: Path, folder: Path) -> outcomes.Imported:
    """A farm from its open text, in a folder without one; it opens to read. Raises Refused.

    It is made aside and put there when whole: what breaks off leaves nothing behind.
    """
    if (folder / FILE).exists():
        raise Refused(f"There is a farm in {folder} already.", "Choose another folder with --farm.")
    _, founding, _ = checked(file, lambda: chunks_of(file))
    folder.mkdir(parents=True, exist_ok=True)
    aside = folder / ".unfolding"
    shutil.rmtree(aside, ignore_errors=True)
    try:
        store = Store.for_reading(aside, founding)
        try:
            done = take_farm(store, file, lambda: chunks_of(file))
        finally:
            store.close()
        backup.back_up(aside, folder / FILE)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return done


def restore(file: Path, folder: Path) -> answers.Backed:
    """Put a backup where a farm is to be. It opens to read; a copy must begin again to write."""
    return answers.Backed(str(folder), backup.restore(file, folder))


def _check_name(what: str, told: str) -> None:
    printable = told.isprintable() and told == told.strip()
    if not told or len(told) > NAME_LETTERS or not printable:
        raise Refused(
            f"The {what}'s name is missing or unfit.",
            f"Give a name of 1 to {NAME_LETTERS} plain characters.",
        )


def _check(key: str, value: str) -> None:
    try:
        check_setting(key, value)
    except ValueError as fault:
        raise Refused(f"'{value}' cannot be the farm's {key}: {fault}.", "") from fault
