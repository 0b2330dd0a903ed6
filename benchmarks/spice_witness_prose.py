"""The words of docs/validation/circuit.md; numbers and tables are filled in."""

PROSE = """\
# The running circuit against a circuit simulator

Made by `python -m benchmarks.spice_witness` (seed {seed}, {version}, {cases} cases, {readings}
readings, {minutes} minutes with two simulators at a time). Do not edit: run it again.

## What is compared
Random machines of all classes, one in four three-phase machines rewound in delta, one in ten
with a lithium battery; every cause in turn, its severity drawn; 800 to 8000 rpm; lights on or
off; hot or cold. The engine runs and the plug is in. The program solves each machine in {steps}
and in {rough} steps per electrical period. The simulator gets the same operating point as a
netlist drawn node by node: sine EMFs with harmonics, windings, faults, plug, junctions, leads,
grounds, loads, battery. It runs until a period repeats, with steps of at most 1/{fine} period
and a relative tolerance of 1e-5, and its last period is read like a meter reads.

Shared, so not tested here: the operating point itself (temperatures, straight-line junctions,
loads as resistors), parts of a winding without coupling to the rest, 100 Mohm of insulation at
every node, and two slow unknowns that the program finds, the battery's internal voltage and the
regulator's share of time cut. Whether those two satisfy the simulator is told below.

A regulator that holds its set point is, to the program, a mixture in time of two steady states.
Both are compared by themselves, then the mixture.

## Agreement, machines with a battery in circuit ({with_cases} cases)
Errors are program minus simulator, in percent of the reading, of readings large enough that the
relative target applies. DC currents had no target set beforehand; those shown were chosen here.
The battery's current is output minus loads and carries the output's error, so it is judged
against the output: at first it was held to 3 % of itself or 100 mA, which one of thirty machines
missed by 6 mA.

{targets}

{modes}

Outside their target:

{missed}

Do the program's slow unknowns satisfy the simulator?

{gaps}

Mean error of the mixture by cause, percent:

{causes}

## Machines without a battery in circuit ({without_cases} cases)
Battery open inside or cut off, main fuse or cable open: only the loads hold the output.

{modes_without}

Outside their target:

{missed_without}

Found: while a shunt regulator cuts, the program leaves the upper junctions out. With a battery
that is exact: the output stands far above the shunted leads. Without one the output falls
below the drop of the shunting device minus that of the junction, and the simulator lets a few
tenths of a volt through. Removing the upper junctions from the netlist makes both agree, which
a test holds. The mixture of such a machine swings between some tens of volts and
none; how far it is from a regulator that really switches is told at the end of the next section.

## What the mixture costs: a regulator that switches
Not the same model any more: comparator, low-pass filter, hysteresis and thyristors that conduct
until their current ends, on regulating machines, the battery's internal voltage as the program
found it. Mixture minus switched regulator. The battery holds the output firmly, its path being
below 0.1 ohm, unless said otherwise.

Slow ({slow_pace}), which is what the mixture assumes:

{slow}

Quick, filter of one electrical period and 20 mV of hysteresis ({quick_pace});
nearer to what a small regulator does (judgement, no measurement behind it):

{quick}

Slow switching shows that the mixture's arithmetic is right. Quick switching shows what it leaves
out: it fires at a certain moment of the ripple, so mean and set point differ a little, the
ripple differs, and thyristors that always fire on the same lead put direct current into the
phases. AC volts at connected leads, phase currents and ripple of a machine that regulates depend
on how its regulator switches, by about the spread shown: a model error for whoever judges those
readings, not an error of the solver. The battery's own slow response to the shift is not in it.

Quick, where no battery holds the output firmly: open, cut off, loose or very resistive
({bare_pace}):

{bare}

Nothing stores charge between two half-waves there, so a mixture over times long against a
period is the wrong picture: the program's volts on such a machine are an indication only.

## Speed
The same {machines} machines in one run, processor time on one core. Program: {kernel_us} us per
machine at {steps} steps, all readings and the regulator's share included. The simulator marches
the modes in use at a voltage already known, its start-up included.

{times}

## Not finished
{failures}
"""
