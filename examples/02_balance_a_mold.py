"""A heavy mold in a frame: where it sits, what it weighs down, what to hang where."""

from evenwall.machine.balance import balance_machine
from evenwall.machine.parts import Machine
from evenwall.units import from_si

machine = Machine(
    mold_mass=4.2,
    mold_outer=(0.24, 0.20, 0.16),
    frame_opening=(0.45, 0.40),
    mold_centre=(0.012, -0.004, 0.0),
)

report = balance_machine(machine)

print(*report.seat.words, sep="\n")
before, after = report.frame_axis_torque.before, report.frame_axis_torque.after
print(f"frame axis: {before:.2f} N m before, {after:.2f} N m after")
for weight in report.counterweights:
    print(f"hang {weight.name} ({from_si(weight.mass, 'g'):.0f} g) at {weight.at}")
