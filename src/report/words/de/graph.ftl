# Wörter in Bildern.
graph-temperature = Temperatur
graph-time = Zeit
graph-lamp-on = Lampe an
graph-lamp-off = Lampe aus
graph-no-readings = : kein Messwert
graph-more = und { $n } weitere
graph-benches = { $n ->
    [one] { $n } Tisch
   *[other] { $n } Tische
}
graph-benches-of = { $benches } mit { $material }
graph-thin = dünn: { $what }
graph-thick = dick: Median
graph-thick-some = dick: Median derer, deren Lampe gleich lange an war
graph-shaded = getönt: { $what }
graph-beyond = { $n ->
    [one] { $n } Messwert liegt jenseits des Randes
   *[other] { $n } Messwerte liegen jenseits des Randes
}
graph-middle-half = mittlere Hälfte der Tische
graph-whole-range = ganze Spanne der Tische
graph-band = erweiterte Unsicherheit eines Messwerts (95 %)
graph-plus-minus = ±: mit etwa 95 % Sicherheit
graph-invented = erfundene Messwerte, von einem virtuellen Versuch
graph-overview = Liniendiagramm der Temperatur in { $degrees }. { $time } von { $from } bis { $to }.
graph-course = { $name }: zuerst { $first }, am tiefsten { $lowest }, am höchsten { $highest }, zuletzt { $last }.
