# Words that every page shares.
rows-counted = { $n ->
    [one] { $n } row
   *[other] { $n } rows
}
every-second = every second
every-minute = every minute
every-hour = every hour
every-day = every day
every-time = every { $time }
phase-settling = settling
phase-heating = heating
phase-cooling = cooling
invented-readings = These readings are invented: they come from a virtual bench.
caution-heading = Cautions
caution-lamp = The lamp, its guard and its clamp get hot and stay hot. Use a guard, fix the lamp at two points, do not touch, and let it cool before you move it.
caution-fire = Keep paper, cloth and hair away from the lamp. Never leave a lit lamp alone.
caution-water = Electricity and water share this table: lead and plug stay away from the trays and from wet hands; use an outlet with a residual-current device (RCD, GFCI).
caution-pour = Add water only with the lamp off, cooled and swung aside: cold water can break a hot bulb.
caution-eyes = Do not look into the lamp.
caution-rules = An adult is there the whole time. Follow your school’s and local rules; electrical work is for licensed people.
dash-why = Why there is a dash:
