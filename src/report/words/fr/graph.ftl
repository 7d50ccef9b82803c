# Les mots des images.
graph-temperature = Température
graph-time = Temps
graph-lamp-on = lampe allumée
graph-lamp-off = lampe éteinte
graph-no-readings = { "\u00A0" }: pas de mesure
graph-more = et { $n } autres
graph-benches = { $n ->
    [one] { $n } table
   *[other] { $n } tables
}
graph-benches-of = { $benches } avec { $material }
graph-thin = fin : { $what }
graph-thick = épais : médiane
graph-thick-some = épais : médiane de ceux dont la lampe est restée allumée aussi longtemps
graph-shaded = teinté : { $what }
graph-beyond = { $n ->
    [one] { $n } relevé dépasse le bord
   *[other] { $n } relevés dépassent le bord
}
graph-middle-half = moitié centrale des tables
graph-whole-range = étendue de toutes les tables
graph-band = incertitude élargie d’une mesure (95 %)
graph-plus-minus = ± : avec environ 95 % de confiance
graph-invented = mesures inventées, d’une expérience virtuelle
graph-overview = Courbes de la température en { $degrees }. { $time } de { $from } à { $to }.
graph-course = { $name } : au début { $first }, au plus bas { $lowest }, au plus haut { $highest }, à la fin { $last }.
