"""The door's auditing: every byte checked, one entry proved, the farm's file carried away."""

from __future__ import annotations

from pathlib import Path

from herdsync import answers
from herdsync.acts import finding
from herdsync.acts.door import Door
from herdsync.acts.typed import Index
from herdsync.exchange.apart import apart
from herdsync.exchange.witness import COPIES_MENDED
from herdsync.faults import Refused
from herdsync.kinds.ids import text_id
from herdsync.log.entry import Entry
from herdsync.log.proof import proof_text
from herdsync.safe_text import safe_text
from herdsync.store import aside, backup, checking
from herdsync.store.view import View


class Vouching(Door):
    """Verification, proofs, backups."""

    def verify(self) -> answers.Verified:
        """Read every stored byte again and hold it against its hash, its links and its signature.

        What looks left is let go: the next one works out everything anew.
        """
        aside.drop(self._store.folder)
        with self._store.reading() as view:
            found = checking.check(view)
            members = view.members()
            composed = view.shelf.composed()
            unvouched = {c.entry for record in composed for c in record.claims() if not c.vouched}
            forks = [
                f"The log of {_device(view, device)} continued in {len(chains)} copies: "
                + ", ".join(f"{chain.tip_sequence - chain.split} entries" for chain in chains)
                + (f". {COPIES_MENDED}" if device in members.by_key else ".")
                for device, chains in sorted(view.log.chains.branches().items())
            ]
            verified = answers.Verified(
                entries=found.entries,
                devices=len(members.by_key),
                records=view.shelf.count(),
                faults=found.faults,
                forks=[*forks, *(f"There is {one.what}. {one.why}" for one in apart(self._store))],
                unvouched=len(unvouched),
                parked=view.log.parked_count(),
                unreadable=len(view.shelf.every_unread()),
                unread=[
                    answers.Setback(f"entry {text_id(one.entry)}", safe_text(one.why))
                    for one in view.shelf.every_unread()
                ],
            )
        self._store.note_checks(found)
        return verified

    def refold(self) -> None:
        """Drop everything derived and fold the whole log again."""
        aside.drop(self._store.folder)
        self._store.refold()

    def proof(self, ref: str, out: Path) -> answers.Proved:
        """Write a file that proves one entry (or a record's newest) with public tools alone."""
        with self._store.reading() as view:
            entry = self._entry(view, ref)
            text = proof_text(f"entry {text_id(entry.id)}", self._parts(view, entry))
        backup.write_new(out, text)
        return answers.Proved(text_id(entry.id), str(out))

    def _entry(self, view: View, ref: str) -> Entry:
        """The entry an id means: an entry's own, a claim's, or the newest of the record named."""
        index = Index(view)
        try:
            record = finding.find_record(index, ref)
            id = finding.find_entry(index, text_id(record.last.entry))
        except Refused as fault:
            try:
                id = finding.find_entry(index, ref)
            except Refused:
                raise fault from None
        entry = view.log.full(id)
        assert entry is not None, "what is found is here"
        return entry

    def _parts(self, view: View, entry: Entry) -> list[tuple[str, Entry]]:
        """The entry, the one that admitted its device, and the farm's founding."""
        members = view.members()
        who = _device(view, entry.header.device)
        parts = [(f"the entry itself ({entry.header.verb} {entry.header.kind}), by {who}", entry)]
        key = entry.header.device
        # Back to the founding: who let that laptop in, who let in the laptop that did, and so on.
        while (member := members.known.get(key)) is not None:
            admission = view.log.full(member.admitted_by)
            if admission is None or admission.id in [one.id for _, one in parts]:
                break
            says = "founded the farm" if admission.id == self._store.farm else "let that laptop in"
            parts.append(
                (f"the entry that {says}: it names the laptop's key and keeper", admission)
            )
            key = admission.header.device
        founding = view.log.full(self._store.farm)
        if founding is not None and founding.id not in [one.id for _, one in parts]:
            parts.append((f"the founding of the farm {safe_text(members.farm)}", founding))
        return parts

    def backup(self, path: Path) -> answers.Backed:
        """Write a whole copy of the farm's file, without any secret key. Raises Refused."""
        return answers.Backed(str(path), backup.back_up(self._store.folder, path))


def _device(view: View, key: bytes) -> str:
    members = view.members()
    if key == members.recovery:
        return "the recovery words"
    member = members.known.get(key)
    return (
        safe_text(f"{member.keeper}'s laptop '{member.device}'") if member else "an unknown device"
    )
