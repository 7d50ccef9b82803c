# Der Bericht über eine Stunde.
report-made-by = Bericht über einen Versuch
report-short = Kurz gesagt
report-rose = Unter der Lampe wurde „{ $sample }“ um { $rise } °C wärmer.
report-fell = Unter der Lampe kühlte „{ $sample }“ um { $fall } °C ab.
report-rose-not = Unter der Lampe blieb „{ $sample }“ bei derselben Temperatur.
report-warmed-most = Am stärksten erwärmte sich „{ $sample }“: { $ratio }-mal so stark wie „{ $other }“.
report-warmed-most-plain = Am stärksten erwärmte sich „{ $sample }“.
report-order-open = Welche Probe sich am stärksten erwärmte, bleibt offen: Der Unterschied ist zu klein.
report-no-lamp = In diesen Temperaturen ist nicht zu sehen, dass die Lampe an- oder ausging. Darum gibt es keine Erwärmung zu vergleichen.
report-ranged = „{ $sample }“ lag zwischen { $low } °C und { $high } °C, im Mittel bei { $mean } °C.
report-steady = „{ $sample }“ blieb bei { $mean } °C.
report-done = Was gemacht wurde
report-done-stood = { $n ->
    [one] Eine Probe stand unter einer Lampe, mit einem Thermometer darin.
   *[other] { $n } Proben standen unter einer Lampe, im gleichen Abstand, mit je einem Thermometer darin.
}
report-done-switched = Die Lampe wurde ein- und später ausgeschaltet.
report-done-switched-on = Die Lampe wurde eingeschaltet.
report-done-switched-off = Die Lampe wurde ausgeschaltet; wann sie eingeschaltet wurde, ist nicht zu sehen.
report-done-to-switch = Die Lampe sollte ein- und später ausgeschaltet werden.
report-done-written = { $n ->
    [one] Die Temperatur wurde die ganze Zeit aufgeschrieben.
   *[other] Alle Temperaturen wurden zu denselben Zeitpunkten aufgeschrieben.
}
report-done-table = { $n ->
    [one] Eine Tabelle hat die Temperatur einer Probe. Wie sie unter der Lampe stand und wie sie abgelesen wurde, sagt die Tabelle nicht.
   *[other] Eine Tabelle hat die Temperaturen von { $n } Proben. Wie weit jede von der Lampe stand und ob alle im selben Augenblick abgelesen wurden, sagt die Tabelle nicht.
}
report-done-open = { $n ->
    [one] Die Temperatur einer Probe wurde die ganze Zeit aufgeschrieben.
   *[other] Die Temperaturen von { $n } Proben wurden zu denselben Zeitpunkten aufgeschrieben.
}
report-fact-samples = Proben
report-fact-distance = Lampe zu Proben
report-fact-plan = Plan
report-fact-began = Beginn
report-fact-readings = Messwerte
report-fact-board = Platine
report-fact-source = Quelle
report-every = { $rows }, { $every } eine
report-board-speaks = { $board } (Zeilen: { $dialect })
report-board-own = duskmarks eigene
report-plan-settle = warten, bis jede Probe um weniger als { $drift } °C je Minute driftet
report-plan-lamp = Lampe { $heat } an, dann { $cool } aus
report-plan-for = { $time } aufzeichnen
report-plan-marks = { $every } eine Zeile der Tabelle
report-prediction = Die Vorhersage
report-predicted = Die Klasse sagte voraus, dass sich „{ $sample }“ am stärksten erwärmt.
report-predicted-group = Gruppe { $group } sagte voraus, dass sich „{ $sample }“ am stärksten erwärmt.
report-predicted-none = Es wurde keine Vorhersage notiert. Bevor du die Kurven ansiehst: Welche Probe hättest du gewählt, und warum?
report-right = Das stimmte.
report-wrong = Das stimmte nicht, und darüber lohnt es sich zu reden.
report-right-open = Ob das stimmte, lässt sich aus diesen Daten nicht sagen.
report-graph = Das Diagramm
report-graph-caption = Temperatur jeder Probe über der Zeit. Das helle Band ist die Zeit mit eingeschalteter Lampe; die Kerben unten sind die Zeilen der Tabelle.
report-graph-caption-open = Temperatur jeder Probe über der Zeit.
report-table = Die Tabelle
report-table-caption = Temperatur jeder Probe, gezählt ab dem Einschalten der Lampe (0 min).
report-table-caption-written = Temperatur jeder Probe, gezählt ab der Zeile, die dem Einschalten der Lampe am nächsten liegt (0 min).
report-table-caption-open = Temperatur jeder Probe, gezählt ab dem Anfang (0 min).
report-table-none = Es gibt keine Tabelle: Es wurde kein Zeitabstand angegeben. Mit --marks { $every } entsteht eine.
report-table-more = { $n ->
    [one] { $n } weitere Zeile steht in lesson.xlsx.
   *[other] { $n } weitere Zeilen stehen in lesson.xlsx.
}
report-plus-minus = ±: Mit etwa 95 % Sicherheit liegt der wahre Wert in diesem Bereich (erweiterte Unsicherheit, k = 2).
report-column-time = Zeit / min
report-column-phase = Phase
report-column-sample = { $sample } / °C
report-happened = Was geschah
report-lamp-on-at = Die Lampe ging bei { $at } an (min:s ab Beginn); zu { $level } % sicher war es zwischen { $low } und { $high }.
report-lamp-on-at-by-table = Die Lampe ging bei { $at } an (nach den Zeiten der Tabelle); zu { $level } % sicher war es zwischen { $low } und { $high }.
report-lamp-on-at-by-clock = Die Lampe ging nach der Uhr der Tabelle um { $at } Uhr an; zu { $level } % sicher war es zwischen { $low } und { $high } Uhr.
report-lamp-off-at = Die Lampe ging bei { $at } aus; zu { $level } % sicher war es zwischen { $low } und { $high }.
report-lamp-off-at-by-clock = Die Lampe ging um { $at } Uhr aus; zu { $level } % sicher war es zwischen { $low } und { $high } Uhr.
report-lamp-on-before = Die Lampe ging { $before } vor Beginn an; zu { $level } % sicher war es zwischen { $low } und { $high } (min:s).
report-first-warming = Am Anfang erwärmte sich „{ $sample }“ um etwa { $rate } °C je Minute.
report-first-cooling = Als die Lampe aus war, kühlte „{ $sample }“ anfangs um etwa { $rate } °C je Minute ab.
report-time-constant = Danach kühlte „{ $sample }“, soweit beobachtet, gegen { $level } °C ab; zwei Drittel dieses Wegs dauerten etwa { $time } (genau: 63 %).
report-slowing = Eine Probe erwärmt sich immer langsamer und kühlt immer langsamer ab: Je wärmer sie ist als die Luft, desto mehr Wärme gibt sie ab.
report-numbers = Die Zahlen, für die Lehrkraft
report-numbers-caption = ± zählt Streuung, Auflösung und was von Messwert zu Messwert anhält. Abweichungen der Fühler selbst sind nicht darin, solange sie nicht kalibriert sind.
report-numbers-caption-calibrated = ± zählt Streuung, Auflösung, was von Messwert zu Messwert anhält, und die Kalibrierung der Fühler.
report-numbers-caption-matched = ± zählt Streuung, Auflösung, was von Messwert zu Messwert anhält, und wie gut die Fühler nach dem Angleichen übereinstimmen. Um wie viel alle gemeinsam falsch anzeigen, steckt nicht darin.
report-value-start = Anfang / °C
report-value-peak = Höchstwert / °C
report-value-end = Ende / °C
report-value-rise = Anstieg / °C
report-value-fall = Abfall / °C
report-value-heating = Anfängliche Erwärmungsrate / (°C/min)
report-value-cooling = Anfängliche Abkühlungsrate / (°C/min)
report-value-constant = Zeitkonstante des Abkühlens / s
report-value-air = Kühlt gegen / °C
report-value-lowest = Tiefster Wert / °C
report-value-highest = Höchster Wert / °C
report-value-mean = Mittel über die Zeit / °C
report-ratio-rise = Verhältnis der Anstiege, „{ $most }“ zu „{ $least }“: { $ratio }.
report-ratio-rate = Verhältnis ihrer anfänglichen Erwärmungsraten: { $ratio }.
report-lamp-table = Schalten der Lampe, Sekunden ab Beginn
report-lamp-table-by-clock = Schalten der Lampe, nach der Uhr der Tabelle
report-lamp-table-by-table = Schalten der Lampe, Sekunden nach den Zeiten der Tabelle
report-lamp-edge = Lampe
report-lamp-on = an
report-lamp-off = aus
report-lamp-at = Zeitpunkt / s
report-lamp-at-clock = Uhrzeit
report-lamp-between-clock = { $level }-%-Intervall
report-lamp-between = { $level }-%-Intervall / s
report-lamp-range = { $low } bis { $high }
report-lamp-planned = Geplant / s
report-lamp-late = Nach dem Plan / s
report-was-late = Das war { $by } s nach der geplanten Zeit.
report-was-early = Das war { $by } s vor der geplanten Zeit.
report-was-on-time = Das war die geplante Zeit.
report-meaning = Was das über Wärme sagt, und was nicht
report-meaning-first = Dieselbe Lampe scheint auf alle Proben. Trotzdem erwärmen sie sich verschieden. Drei Dinge entscheiden:
report-meaning-colour = Farbe: Eine dunkle Oberfläche nimmt mehr vom Licht auf als eine helle.
report-meaning-water = Wasser: Wo Wasser verdunstet, nimmt es Wärme mit; eine nasse Probe bleibt darum kühler.
report-meaning-mass = Wärmekapazität: Manche Stoffe brauchen mehr Wärme als andere, um ein Grad wärmer zu werden. Wasser braucht viel.
report-meaning-not = Unser Diagramm zeigt, wie sehr sich jede Probe erwärmte. Es kann allein nicht zeigen, welches der drei Dinge der Grund war, denn die Proben unterscheiden sich in allen zugleich. Um das herauszufinden, ändert man nur eines: zwei Proben aus demselben Stoff, eine trocken und eine nass, oder eine dunkel und eine hell.
report-meaning-formula = Für die Lehrkraft: anfängliche Erwärmungsrate = aufgenommene Leistung je Fläche ÷ Wärmekapazität je Fläche. Nur Proben, die gleich viel aufnehmen und sich gleich tief erwärmen, haben anfängliche Raten im umgekehrten Verhältnis ihrer volumetrischen Wärmekapazitäten; hier wird keine Wärmekapazität abgeleitet.
report-meaning-handbook = Handbuchwerte in MJ/(m³·K): Wasser { $water }, Torfboden gesättigt { $wet } und trocken { $dry }, Quarz { $quartz }, Tonmineral { $clay } (Moene und van Dam, Transport in the Atmosphere-Vegetation-Soil Continuum, Cambridge University Press 2014, Tabelle 2.2).
report-quality = Wie gut die Daten sind
report-complete = Kein Messwert fehlt.
report-cut-off = Die Aufzeichnung brach vor ihrem Ende ab; alles bis dahin ist hier.
report-going-on = Der Lauf ist noch im Gang; das ist der Stand bis jetzt.
report-damage = { $n ->
    [one] Die Aufzeichnung ist an { $n } Stelle beschädigt; was lesbar war, ist benutzt.
   *[other] Die Aufzeichnung ist an { $n } Stellen beschädigt; was lesbar war, ist benutzt.
}
report-uncalibrated = Die Fühler sind für diesen Lauf nicht kalibriert: Ein fester Unterschied von einigen Zehntel Grad zwischen ihnen fiele nicht auf. Anstiege und Raten leiden darunter kaum.
report-uncalibrated-table = Ob die Fühler kalibriert sind, sagt die Tabelle nicht: Ein fester Unterschied von einigen Zehntel Grad zwischen ihnen fiele nicht auf. Anstiege und Raten leiden darunter kaum.
report-calibrated = { $sample }: Kalibrierung auf ± { $u } °C bekannt.
report-matched = { $sample }: an die anderen Fühler angeglichen auf ± { $u } °C; um wie viel alle gemeinsam falsch anzeigen, ist nicht bekannt.
report-calibrated-by = { $sample }: { $kind } vom { $day }, { $days ->
    [0] weniger als einen Tag
    [one] { $days } Tag
   *[other] { $days } Tage
} vor dem Lauf.
calibration-match = Angleich in einem Bad
calibration-ice = Eispunkt
calibration-boil = Siedepunkt
calibration-constants = Kennwerte aus Vergleichspunkten
calibration-line = Korrekturgerade aus Vergleichspunkten
calibration-lag = Verzögerung
report-events = Was die Aufzeichnung vermerkt
report-event-of = { $what }: { $n ->
    [one] { $n }-mal
   *[other] { $n }-mal
}
report-flags = Zeilen mit einem Vermerk
report-flag-of = { $what }: { $rows }
event-gap = Pause ohne Messwerte
event-port-lost = Platine ausgesteckt oder verloren
event-reset = Platine startete neu
event-bad-line = unverständliche Zeilen der Platine
event-wrong-channels = Zeile mit falscher Zahl von Werten
event-other-board = eine andere Platine antwortete
event-probe = Fühler ausgefallen oder wieder da
event-missing = Messwerte verloren, bevor sie gesichert waren
event-resume = nach einer Unterbrechung fortgesetzt
event-suspend = der Computer schlief
event-clock-step = die Uhr des Computers wurde gestellt
event-journal-damage = beschädigte Stelle der Aufzeichnung
event-early-lines = Zeilen, die älter sind als der Lauf
report-notes = Notizen
report-note = { $at } – { $text }
report-note-late = { $at } – { $text } (nachträglich notiert, { $when })
event-hand-mark = von Hand festgehaltener Augenblick
event-hand-lamp-on = von Hand gemeldet: Lampe eingeschaltet
event-hand-lamp-off = von Hand gemeldet: Lampe ausgeschaltet
event-hand-go-on = von Hand weitergegangen
event-renamed = Probe nachträglich umbenannt
event-other = andere Vermerke ({ $code })
flag-lost = kurz davor kamen Zeilen der Platine nicht ganz an
flag-gap = erste Zeile nach einer Pause
flag-reset = erste Zeile nach dem Neustart der Platine
flag-merged = mehrere Zeilen zusammengefügt
flag-late = verspätet angekommen
flag-skewed = Proben nicht ganz zum selben Zeitpunkt gelesen
flag-interpolated = zwischen den eigenen Zeilen der Platine interpoliert
flag-probe = { $column }: { $fault }
flag-other = { $code }
fault-no-reading = kein Messwert
fault-power-on = noch nicht gemessen (85 °C beim Einschalten)
fault-not-a-number = keine Zahl
fault-open = Kabel gebrochen oder Stecker locker
fault-short = die Adern berühren sich
fault-out-of-range = außerhalb des Bereichs
fault-other-board = eine andere Platine antwortete
fault-absent = ihre Platine sandte nichts, das nahe genug liegt
report-method = Wie gerechnet wurde
report-method-edges = Lampe: Alle Proben haben dieselbe Lampe; darum wird ein Modell sich erwärmender und abkühlender Körper an alle zugleich angepasst. Das Intervall enthält den wahren Zeitpunkt mit der genannten Sicherheit.
report-method-lags = Verzögerungen von Fühler und Lampe sind nicht angegeben: { $probe } s (Standardunsicherheit { $probeu } s) und { $lamp } s ({ $lampu } s) sind angenommen, und das Intervall trägt dem Rechnung.
report-method-lags-declared = Angegebene Verzögerungen sind herausgerechnet: { $lags }.
report-method-lags-calibrated = Die Verzögerungen der Fühler sind durch Kalibrierung bestimmt und herausgerechnet: { $lags }.
report-method-lag-probe = Fühler { $lag } s
report-method-lag-lamp = Lampe { $lag } s
report-method-marks = Tabelle: Für jede Zeile wird eine Gerade oder Parabel an die Messwerte innerhalb von 15 s auf derselben Seite des Schaltens angepasst; weit auseinanderliegende Messwerte werden gerade verbunden. Über eine Pause hinweg wird nichts ausgefüllt.
report-method-rates = Raten und Zeitkonstanten: je Phase Exponentialfunktionen nach kleinsten Quadraten, eine oder, wo eine Oberfläche schneller ist als das, was darunter liegt, zwei; die anfängliche Rate ist ihre Steigung am Schalten der Lampe. Von Zeilen, die Minuten auseinanderliegen, zählen die ersten, von der Temperatur beim Schalten an; was dazwischen schneller war, ist nicht zu sehen.
report-method-uncertainty = Unsicherheiten folgen dem GUM (JCGM 100:2008). ± ist die erweiterte Unsicherheit mit k = 2, die den wahren Wert in etwa 95 % der Fälle einschließt; sie hat zwei Stellen, und der Wert ist auf dieselbe Stelle gerundet. Arbeitsmappe und Dateien haben Standardunsicherheiten, die Hälfte davon.
report-method-files = Dieselben Zahlen stehen in marks.csv und summary.json. Erstellt mit duskmark { $version }.
report-method-no-files = Erstellt mit duskmark { $version }.
report-method-files-other = In marks.csv und summary.json stehen diese Temperaturen in Grad Celsius. Erstellt mit duskmark { $version }.
report-quantities = { $sample } ({ $list })
