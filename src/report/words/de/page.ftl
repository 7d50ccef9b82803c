# Wörter, die alle Seiten gemeinsam haben.
rows-counted = { $n ->
    [one] { $n } Zeile
   *[other] { $n } Zeilen
}
phase-settling = Ruhe
phase-heating = Erwärmen
phase-cooling = Abkühlen
