"""What every workshop knows about perches, bushings and bars. Common practice, no source."""

from __future__ import annotations

MEASURE_FIRST = (
    "Measure all four ride heights, and the turns of thread that show at each perch, before "
    "anything is taken apart: afterwards nobody knows how the car stood."
)
SETTLE = (
    "Measure on level ground with pressures set, the usual fuel, and weight on the driver's seat. "
    "Roll the car back and forth and rock it at each end first: friction holds it some millimetres "
    "off. Always measure to the same marks."
)
FREE_THE_BAR = (
    "Heights and corner weights are set surest with one end of each anti-roll bar unhooked, its "
    "link then set so that it goes back without force: a bar under tension lifts one side."
)
GREASE_THREADS = (
    "Anti-seize on aluminium perch threads, and a thrust bearing under the spring: dry threads "
    "gall when they are turned under load. Clean them before turning."
)
UNLOAD_THE_SPRING = (
    "Take the load off the spring before turning its perch: car on rated stands, wheel hanging. "
    "Loosen the lock ring or clamp first, tighten it again after."
)
LOWER_MOUNT = (
    "Another lower mount for the damper drops the car and changes the motion ratio: spring rate, "
    "damping and travel at the wheel change with it. Measure the ratio again."
)
COIL_CLEARANCE = (
    "The coil must clear the axle, the tyre and the body through the whole travel: check at full "
    "bump and full droop, without the spring if need be."
)
DRY_BUSHINGS = (
    "Dry polyurethane bushings squeak and bind, which shows as friction and keeps the car from "
    "coming to rest at its true height. Grease or renew them first."
)
LOOK_THERE_FIRST = (
    "First look for bushings that bind: dry polyurethane ones squeak and bind, others were "
    "tightened at full droop or are worn out; then for bent dampers. Grease or renew them before "
    "any knob is turned (common practice)."
)
"""For a friction estimate that is high, or higher on one side."""

HEIGHT_FACTS = (
    MEASURE_FIRST,
    SETTLE,
    FREE_THE_BAR,
    GREASE_THREADS,
    UNLOAD_THE_SPRING,
    COIL_CLEARANCE,
    LOWER_MOUNT,
    DRY_BUSHINGS,
)

DRIVE_SAFETY = (
    "A passenger works the laptop or phone; whoever drives never looks at it. Alone: start the "
    "recording before setting off, stop it after parking.",
    "A closed or an empty road with good sight, dry, by day. Your own limits and the law come "
    "before any speed named here; nobody close behind.",
    "After the car was lowered or heights changed: clearance of wheels, tyres, brake lines and "
    "axle at full lock and full bump, before the first metre.",
    "Wheel nuts, damper mounts, links and perch locks to their torque before the drive, and again "
    "after it.",
    "Springs are under load, also on a car that stands: right compressor or a workshop, rated "
    "stands, never under a car on a jack.",
    "Logger and cables fastened: nothing loose at the pedals, nothing near wheels, shafts or "
    "exhaust.",
    "When a stop is hit or anything knocks, slow down and look before you go on.",
    "Local codes and the word of a licensed workshop come before anything said here.",
)
"""Before and while driving to measure."""
