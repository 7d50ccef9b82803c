# Words that every page shares.
rows-counted = { $n ->
    [one] { $n } row
   *[other] { $n } rows
}
phase-settling = settling
phase-heating = heating
phase-cooling = cooling
