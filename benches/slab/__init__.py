"""An independent simulator of the lamp lesson: invented data, and a judge of `duskmark analyse`.

The parts: `thermal` (a heated slab under each probe), `beam` (the lamp and its hot housing),
`room` (the air), `readings` (probe noise, faults and rounding), `families` (what kinds of record
there are), `judge` (the program's answer against the truth),
`bound` (how near any answer could be). No equation of the program's own
estimator is used: it never sees a slab, and the slab never sees the program.
"""
