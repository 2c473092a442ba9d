"""What is said beside work that can hurt: careful, short, and always below vet, label and law.

The program computes and reminds; it never prescribes. Grounds: the extension and veterinary texts
and the law named beside each in the shipped care plan; wording is our own.
"""

from __future__ import annotations

DEFER = "Your veterinarian, the label and local law come before anything shown here."

MEDICINE = (
    "Read the label or the veterinarian's written instruction again before you draw it up: animal, "
    "product, amount, route, expiry. Weigh, do not guess. Milk and meat stay held until the "
    f"withdrawal is over. {DEFER}"
)
VACCINE = (
    "Healthy animals only. Note lot and expiry; keep it cool and use a clean needle. Watch the "
    "animal for a while afterwards: a bad reaction comes fast and needs a veterinarian. Meat "
    f"is held for the time the label says. {DEFER}"
)
HOT_IRON = (
    "A hot iron can burn the brain: a kid's skull is thin. Test the iron on wood, keep each "
    "touch short, let the head cool between touches. In some countries only a veterinarian may "
    f"do this, with anaesthesia. Ask about pain relief beforehand. {DEFER}"
)
CASTRATION = (
    "Count both testes below the ring or clamp before you let go; never do one that is missing. "
    "Tetanus cover must stand. Age and method are limited by law in many countries, and pain "
    "relief is for the veterinarian to advise. Swelling, smell, or an animal off its feed: call. "
    f"He may stay able to sire for weeks. {DEFER}"
)
HOOF = (
    "A sharp knife and a kicking animal: cut away from yourself, a little at a time, and stop at "
    "pink. Handle does gently in their last month. Clean the tools between animals."
)
SCUR = (
    "Only dead tip may come off; further down a scur bleeds and hurts. One that nears the skull "
    f"or an eye, or is torn loose, is for the veterinarian. {DEFER}"
)
TATTOO = (
    "Read the punch on card before it meets the ear; stay between the veins. Clean the pliers "
    "between animals."
)
ABORTION = (
    "Keep her apart, wear gloves, and let nobody pregnant near: some causes infect people. Keep "
    f"what was lost cool for the veterinarian, and call. {DEFER}"
)
KIDDING = (
    "Hard straining for half an hour with no progress, or a doe that weakens, is the moment to "
    "call the veterinarian. Gloves, and nobody pregnant near: waters and afterbirth may infect "
    f"people. Milk of the first days is not for sale. {DEFER}"
)
FEVER = f"A thermometer outside the usual range is a reason to look and to call. {DEFER}"
EYELID = (
    "The eyelid shows blood loss only, not every worm and not every cause. Score in daylight. "
    f"{DEFER}"
)
ILLNESS = (
    "Lying down, straining, bloat, blue or white gums, or no appetite for a day cannot wait: call "
    f"the veterinarian. A male that strains to pass water is an emergency. {DEFER}"
)
RATION = (
    "Change feed over days, never at once. Minerals made for goats can poison sheep, and copper and "
    f"selenium have little room between enough and too much. {DEFER}"
)
FEED = (
    "Read the bag: feed made for other animals may harm goats, and what is in goats' feed may kill "
    f"sheep, horses or dogs. Nothing mouldy or heated; grain behind a door no goat opens. {DEFER}"
)
FEEDING = (
    "Never milk of a treated doe, nor colostrum of one that is not tested clear. A kid must stand and "
    "suck: warm a cold one first; what is poured into a weak one drowns it, and a tube is for someone "
    f"trained. {DEFER}"
)
LEAVING = (
    "Read the tattoo on the animal, not in the record. Tell whoever takes it of every hold on milk "
    "or meat that still runs. Marks, papers and movement are bound by law in most places. "
    f"{DEFER}"
)
DEATH = (
    "Wear gloves; some causes infect people and the rest of the herd. A sudden death may have to "
    f"be reported, and where the body may go is bound by law. {DEFER}"
)
MATING = (
    "A buck in season is strong and quick: lead him with a second person near, and never turn your "
    "back on him. A straw is set by someone trained, with clean hands and tools. "
    f"{DEFER}"
)
DRY_OFF = (
    "Feel both halves first: hot, hard or clotted milk is for the veterinarian before she is dried "
    f"off. What is put into a dry udder is held from her next kidding, as its label says. {DEFER}"
)
UDDER_LOOK = (
    "Hot, hard, blue or cold halves, or water and blood in the milk, cannot wait: call the "
    f"veterinarian, milk her last, and keep that milk from tank and kids. {DEFER}"
)
ARRIVAL = (
    "Keep it apart, with boots and buckets of its own, until its looks and tests allow; a test before "
    f"purchase speaks of that day only. Marks and papers of movement are bound by law. {DEFER}"
)
DISEASE_TEST = (
    "A result speaks of one animal on one day; what follows is for the veterinarian. Some diseases "
    f"infect people, and some must be reported. {DEFER}"
)
DISPOSAL = (
    "Not into a drain, a ditch or the dung: medicines and needles go back to who supplied them, or "
    f"where local law says. {DEFER}"
)
