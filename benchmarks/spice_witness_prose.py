"""The words of docs/validation/circuit.md; numbers and tables are filled in."""

PROSE = """\
# The running circuit against a circuit simulator

Made by `python -m benchmarks.spice_witness` (seed {seed}, {version}, {cases} cases, {readings}
readings, {minutes} minutes with two simulators at a time). Do not edit: run it again.

## What is compared
Random machines of all classes, one in four three-phase machines rewound in delta, one in ten
with a lithium battery; every cause in turn, its severity drawn; 800 to 8000 rpm; lights on or
off; hot or cold. The engine runs and the plug is in. The program solves each machine in {steps}
time steps per electrical period, which is what it uses for an answer, in {rough}, which it uses
for populations, and in 240 and 120 for comparison. The simulator gets the same operating point as a
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

Outside their target with {steps} steps; what is inside it with 240 is the size of the step:

{missed}

With the charge lead open only insulation holds the output. There the simulator now and then
accepts a wrong solution for a few steps while the leads change over: in case 242, the one looked
into, it gives the cut mode 6.16 V where a divider of two equal insulations makes half of 12.39
V, the program's 6.196 V, and comes closer as its own steps shrink. That difference is the
witness's.

Do the program's slow unknowns satisfy the simulator?

{gaps}

The set point is missed most where output or leads are barely held (charge lead open, battery
nearly open: milliamperes times ohms), and by some 17 mV with a heavy ground fault: the program
counts only the charging current through the regulator's ground, not what returns from the
fault. The battery's law is steep next to zero current: tens of milliamperes there, small beside
the output they are left over from, make tenths of a volt of over-voltage.

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
tenths of a volt through. On the reference machine both agree once the upper junctions are open,
which a test holds. The mixture of such a machine swings between some tens of volts and
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

Slow switching agrees with the mixture within about 1 % in the median, so the arithmetic holds;
its largest differences were not looked into. Quick switching shows what the mixture leaves out:
it fires at a certain moment of the ripple, so mean and set point differ a little, the ripple
differs, and thyristors that always fire on the same lead put direct current into the phases. AC
volts at connected leads, phase currents and ripple of a machine that regulates depend on how its
regulator switches, by about the spread shown: a model error for whoever judges those readings,
not an error of the solver. The battery's own slow response to the shift is not in it.

Quick, where no battery holds the output firmly: open, cut off, loose or very resistive
({bare_pace}):

{bare}

Nothing stores charge between two half-waves there, so a mixture over times long against a
period is the wrong picture: the program's volts on such a machine are an indication only.

## Speed
The same {machines} machines in one run, processor time. Program, in batches: {kernel_us} us per
machine at {steps} steps, all readings and the regulator's share included. The simulator marches
the modes in use at a voltage already known, its start-up included.

{times}

## Not finished
{failures}
"""
