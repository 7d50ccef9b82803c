# Mots communs à toutes les pages.
rows-counted = { $n ->
    [one] { $n } ligne
   *[other] { $n } lignes
}
phase-settling = attente
phase-heating = chauffage
phase-cooling = refroidissement
