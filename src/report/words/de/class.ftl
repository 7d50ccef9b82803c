# Die Seite einer Klasse: alle Tische zusammen.
class-title = Klasse
class-count = { $n ->
    [one] { $n } Tisch.
   *[other] { $n } Tische.
}
class-lead = Im Mittel der Klasse erwärmte sich { $upper } { $ratio }-mal so stark wie { $lower }; mit 95 % Sicherheit liegt der gemeinsame Wert der Tische zwischen { $low } und { $high } ({ $n ->
    [one] { $n } Tisch
   *[other] { $n } Tische
}).
class-no-lead = Für die Klasse gibt es kein Verhältnis: { $why }.
class-picture = Alle Kurven in einem Bild
class-picture-caption = Dünne Linien: einzelne Tische, gezählt ab dem Augenblick, in dem ihre Lampe anging. Fett: der Median jedes Materials über die Tische, deren Lampe gleich lange an war. Getönt: wie weit diese streuen.
class-table = Tisch für Tisch
class-table-caption = Jeder Wert ist auf seine eigene Unsicherheit oder auf Hundertstel gerundet (Verhältnisse: Tausendstel); ein Stern zeigt, was von den anderen Tischen abweicht. Die Standardunsicherheiten stehen in der Arbeitsmappe.
class-bench = Tisch
class-heated = Lampe an / min
class-start = Anfang / °C
class-rise = Anstieg / °C
class-fall = Abfall / °C
class-heating = Anfängliche Erwärmungsrate / (°C/min)
class-cooling = Anfängliche Abkühlungsrate / (°C/min)
class-constant = Zeitkonstante / s
class-ratio-rise = Verhältnis der Anstiege, { $upper } zu { $lower }
class-ratio-rate = Verhältnis der anfänglichen Erwärmungsraten, { $upper } zu { $lower }
class-together = Alle Tische zusammen
class-together-caption = Zusammengefasst: gewichtetes Mittel der Tische, die nicht abweichen. ±: Mit 95 % Sicherheit liegt ihr gemeinsamer Wert in diesem Bereich (erweiterte Unsicherheit; k nach Students t, über 2 bei wenigen Tischen). Innerhalb: was die Messwerte eines Tisches offen lassen (Standardunsicherheit). Zwischen: worin sich Tische darüber hinaus unterscheiden (Standardabweichung).
class-quantity = Größe
class-of = { $sample }: { $quantity }
class-n = Tische
class-median = Median
class-range = Kleinster bis größter
class-range-value = { $low } bis { $high }
class-robust = Streuung (robuste Standardabw.)
class-pooled = Zusammengefasst
class-within = Innerhalb
class-between = Zwischen
class-ratio = Das Verhältnis, für die Lehrkraft
class-ratio-of = Verhältnis der Anstiege, { $upper } zu { $lower }: { $value }; mit 95 % Sicherheit zwischen { $low } und { $high }, aus { $n } Tischen.
class-ratio-spread = Die Messwerte eines einzelnen Tisches lassen { $within } offen (Standardunsicherheit); darüber hinaus unterscheiden sich die Tische um { $between } (Standardabweichung).
class-ratio-between = Der größte Teil der Streuung kommt also daher, wie die Tische aufgebaut waren, nicht von den Thermometern: Mehr Messwerte würden nicht helfen, mehr Sorgfalt bei Abstand, Wasser und Tiefe der Fühler schon.
class-ratio-within = Die Streuung zwischen den Tischen ist also nicht größer, als ihre Messwerte erklären.
class-ratio-all = Mit den abweichenden Tischen wäre der zusammengefasste Wert { $value }, mit 95 % Sicherheit zwischen { $low } und { $high }, aus { $n } Tischen.
class-apart = Abweichende Tische
class-apart-none = Kein Tisch weicht auffällig ab.
class-apart-few = Bei weniger als fünf Tischen, die dasselbe taten, lässt sich von keinem sagen, dass er auffällig abweicht.
class-apart-careful = Jede Ursache hier ist nur eine mögliche. Zuerst den Tisch ansehen.
class-apart-one = { $bench }, { $sample }: { $quantity } { $value }; der Median der Klasse ist { $median }. { $cause }
class-apart-all = { $bench }, alle Proben: { $quantity } der ersten { $value }; der Median der Klasse ist { $median }. { $cause }
class-cause-nearer = Alle Proben erwärmten sich stärker als anderswo: Die Lampe war vielleicht näher oder heller.
class-cause-farther = Alle Proben erwärmten sich schwächer als anderswo: Die Lampe war vielleicht weiter weg, schwächer oder nicht auf die Schalen gerichtet.
class-cause-drier = Nur diese Probe erwärmte sich stärker: Sie war vielleicht trockener, dünner oder dunkler, oder ihr Fühler lag im Licht der Lampe.
class-cause-wetter = Nur diese Probe erwärmte sich schwächer: Sie war vielleicht nasser oder dicker oder lag im Schatten, oder ihr Fühler berührte das Glas oder die Schale.
class-cause-probe = Sie kühlte in anderem Tempo ab: Ihr Fühler berührte vielleicht das Glas oder die Schale oder lag anders als an den anderen Tischen.
class-cause-exchanged = Zwei Proben haben sich je so erwärmt wie anderswo die andere: vielleicht sind ihre Namen oder ihre Fühler vertauscht.
class-cause-open = Warum, sagen die Zahlen nicht.
class-cause-start = Sie begann bei einer anderen Temperatur: Vielleicht durfte sie nicht zur Ruhe kommen, oder ihr Fühler zeigt anders an; die Fühler in einem Bad vergleichen.
class-limits = Was das einschränkt
class-limits-none = Alle Tische taten dasselbe, und alle ließen sich lesen.
class-warn-no-heating = { $bench }: Es war nicht zu sehen, dass die Lampe an- und ausging; der Anstieg wird nicht mit den anderen zusammengefasst.
class-warn-heated = { $bench }: Die Lampe war { $own } min an, an den zusammengefassten Tischen { $usual } min; Anstiege werden nicht zusammengefasst.
class-warn-cooled = { $bench }: { $own } min Abkühlung, an den zusammengefassten Tischen { $usual } min; Abfälle werden nicht zusammengefasst.
class-warn-rows = { $bench }: { $own } s zwischen den Zeilen, an den zusammengefassten Tischen { $usual } s; die anfänglichen Raten werden nicht mit deren zusammengefasst.
class-warn-not-in-all = { $n ->
    [one] { $sample }: Nur { $n } von { $of } Tischen hat diese Probe.
   *[other] { $sample }: Nur { $n } von { $of } Tischen haben diese Probe.
}
class-warn-one-sample = { $bench }: nur eine Probe, also kein Verhältnis.
class-warn-invented = Erfundene Messwerte, von virtuellen Tischen: { $benches }.
class-warn-same-readings = { $input } hat dieselben Messwerte wie { $bench } und wird nicht noch einmal gezählt.
class-warn-left-out = { $input } wurde weggelassen: { $reason }
class-why-few = es braucht mindestens drei Tische mit beiden Proben, die dasselbe taten, und es gibt { $n }
class-why-few-known = es braucht mindestens drei Tische, deren Unsicherheit bekannt ist
class-why-few-alike = es braucht mindestens drei Tische, die gleich lange erwärmt wurden
class-method = Wie gerechnet wurde
class-method-names = Proben sind dieselben, wenn ihre Namen es sind, ob groß oder klein geschrieben. Zusammengefasst wird nur, wo die Lampe gleich lange an war, auf 5 %.
class-method-robust = Die Streuung ist das 1,4826-Fache des Medians der absoluten Abweichungen vom Median (MAD), berichtigt für wenige Tische; ein Tisch gilt jenseits von 3,5 davon als abweichend (Iglewicz und Hoaglin 1993), wenn das ein Zehntel des Wertes oder mehr ist.
class-method-pooled = Zusammengefasste Werte folgen dem Modell zufälliger Effekte mit der Varianz zwischen den Tischen nach Paule und Mandel (1982), Verhältnisse als Logarithmen; Intervalle nehmen Students t mit einem Freiheitsgrad weniger als Tischen.
class-method-files = Dieselben Zahlen stehen in class.xlsx und class.json. Erstellt mit duskmark { $version }.
class-caution = Vor dem nächsten Lauf: Lampe, Schutz und Klemme werden heiß. Abkühlen lassen, Papier, Stoff, Stecker und Kabel von ihnen und vom Wasser fernhalten, eine Steckdose mit Fehlerstrom-Schutzschalter benutzen. Es gelten die Regeln der Schule und des Ortes; Elektroarbeiten sind Sache von Fachleuten.
