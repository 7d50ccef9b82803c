# Words in pictures.
graph-temperature = Temperature
graph-time = Time
graph-lamp-on = lamp on
graph-lamp-off = lamp off
graph-no-readings = : no readings
graph-more = and { $n } more
graph-benches = { $n ->
    [one] { $n } bench
   *[other] { $n } benches
}
graph-benches-of = { $benches } of { $material }
graph-thin = thin: { $what }
graph-thick = thick: median
graph-thick-some = thick: median of those with the lamp on equally long
graph-shaded = shaded: { $what }
graph-beyond = { $n ->
    [one] { $n } reading is beyond the edge
   *[other] { $n } readings are beyond the edge
}
graph-middle-half = middle half of the benches
graph-whole-range = whole range of the benches
graph-band = expanded uncertainty of a reading (95 %)
graph-plus-minus = ±: with some 95 % confidence
graph-invented = invented readings, from a virtual bench
graph-overview = Line graph of temperature in { $degrees }. { $time } from { $from } to { $to }.
graph-course = { $name }: first { $first }, lowest { $lowest }, highest { $highest }, last { $last }.
