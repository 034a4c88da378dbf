"""The cautions that stand on every plan, bill and report."""

CAUTIONS = (
    "Calculated, not tested: within means within calculated limits. Test and record every link on site.",
    "No finding is no statement of electrical safety. Earthing and bonding are for an electrical designer.",
    (
        "Records are indicative: get service plans, locate, dig trial holes by hand; no machine within 0.5 m of a "
        "known or suspected service."
    ),
    "Keep clear of overhead lines. Plan work at height. No work on outdoor cable in thunder.",
    "Isolate and prove dead; work on mains only by qualified people.",
    "Fire stopping and the fire class of cables are by others. Hazardous areas are assessed first.",
    "On farms: livestock, slurry gas, grain stores, moving machines. Agree access with the farm.",
    (
        "Local codes and licensed practice govern. Figures marked second hand or from memory were not checked against "
        "the standard itself."
    ),
    "What a camera must see, privacy, electrical design and certification are not part of this.",
)
