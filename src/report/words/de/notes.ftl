# Zweifel an den Daten, je ein Satz.
note-not-numbers = { $column }: { $count ->
    [one] { $count } Zelle ist keine Zahl und gilt als fehlend (Zeile { $line }).
   *[other] { $count } Zellen sind keine Zahlen und gelten als fehlend (zuerst in Zeile { $line }).
}
note-no-time = { $count ->
    [one] { $count } Zeile hat keine brauchbare Zeit und wurde weggelassen (Zeile { $line }).
   *[other] { $count } Zeilen haben keine brauchbare Zeit und wurden weggelassen (zuerst Zeile { $line }).
}
note-sorted = Die Zeilen stehen nicht in der Reihenfolge der Zeit und wurden sortiert (zuerst in Zeile { $line }).
note-same-time = { $count ->
    [one] { $count } Zeile wiederholt die Zeit einer anderen und wurde weggelassen (Zeile { $line }).
   *[other] { $count } Zeilen wiederholen die Zeit einer anderen; jeweils die erste wurde behalten (zuerst weggelassen: Zeile { $line }).
}
note-titles = { $count ->
    [one] { $count } Zeile über den Überschriften wurde übersprungen; die Überschriften stehen in Zeile { $line }.
   *[other] { $count } Zeilen über den Überschriften wurden übersprungen; die Überschriften stehen in Zeile { $line }.
}
note-turned = Die Tabelle liegt quer, ihre Zeiten stehen in einer Zeile; sie wurde gedreht. Eine hier genannte Zeile ist eine Spalte der Datei.
note-encoding = Der Text ist kein UTF-8; er wurde als { $encoding } gelesen.
note-time-unit = Die Zeitspalte „{ $column }“ nennt keine Einheit; angenommen wurden { $unit }. Sind es andere, gehört die Einheit in die Überschrift.
note-unit-milliseconds = Millisekunden
note-unit-seconds = Sekunden
note-unit-minutes = Minuten
note-unit-hours = Stunden
note-unit-days = Tage
note-unit-clock = Uhrzeiten in Stunden und Minuten
note-unit-minutes-seconds = Minuten und Sekunden
note-other-unit = { $column }: Diese Zahlen wurden als °C gelesen und sehen nach { $unit } aus. Wenn das stimmt, gehört { $unit } in die Überschrift.
note-slip = { $column }, Zeile { $line }: { $written } liegt weit von allen anderen Werten. Der Wert wurde genommen, wie er dasteht.
note-slip-meant = { $column }, Zeile { $line }: { $written } liegt weit von allen anderen Werten; ist { $perhaps } gemeint? Der Wert bleibt weg, bis die Tabelle es sagt.
note-point-taken = Die Zeiten in „{ $column }“ haben nur als Minuten und Sekunden (1.30 für 1 min 30 s) gleiche Abstände und wurden so gelesen. Sind es Dezimalminuten, bitte Zeiten wie 1:30 schreiben.
note-point = Die Zeiten in „{ $column }“ können Minuten und Sekunden sein (1.30 für 1 min 30 s); gelesen wurden sie als Dezimalminuten. Sind es keine, bitte Zeiten wie 1:30 schreiben.
note-hours-long = Nach den Zeiten in „{ $column }“ dauert die Tabelle { $hours } Stunden. Heißt 1:00:00 eine Minute, bitte 1:00 oder 0:01:00 schreiben.
note-table-beside = Neben der ersten Tabelle, ab Spalte { $place }, hat eine zweite gleich benannte Proben zu denselben Zeiten: Sie wurde weggelassen. Kam sie später, müssen ihre Zeiten nach denen der ersten weiterzählen; sonst gehört sie in eine eigene Datei.
note-difference = Die Spalte „{ $column }“ ist { $of } minus { $from }, keine eigene Probe, und wurde weggelassen.
note-mean-of = Die Spalte „{ $column }“ ist der Mittelwert von { $from }, keine eigene Probe, und wurde weggelassen.
note-sum-of = Die Spalte „{ $column }“ ist die Summe von { $from }, keine eigene Probe, und wurde weggelassen.
note-quotient-of = Die Spalte „{ $column }“ ist { $of } geteilt durch { $by }, keine eigene Probe, und wurde weggelassen.
note-rise-of = Die Spalte „{ $column }“ ist { $from } minus dessen ersten Wert, keine eigene Probe, und wurde weggelassen.
note-unit-of = Die Spalte „{ $column }“ ist { $from } in einer anderen Einheit, keine eigene Probe, und wurde weggelassen.
note-line-for-each = Jede Zeile der Tabelle ist ein Messwert, seine Probe steht unter „{ $column }“; die Messwerte zur selben Zeit wurden nebeneinander gestellt. Eine hier genannte Zeile ist die der ersten davon.
note-anew-at-once = Ab Zeile { $line } beginnen die Zeiten von vorn. Sie wurden so gelesen, dass sie im selben Augenblick wie die Zeile davor weitergehen. Stimmt das nicht, bitte die Zeiten von dort an weiterzählen.
note-anew-later = Ab Zeile { $line } beginnen die Zeiten von vorn. Sie wurden so gelesen, dass sie einen Schritt nach der Zeile davor weitergehen. Stimmt das nicht, bitte die Zeiten von dort an weiterzählen.
note-time-slip = Zeile { $line }: Die Zeit { $written } passt nicht zu den Zeilen ringsum, die für { $room } Platz lassen. Die Zeile bleibt weg, bis die Tabelle es sagt.
note-absurd = { $column }: Solche Temperaturen in °C hat keine Stunde. Bitte Überschrift und Einheit ansehen. Die Werte wurden genommen, wie sie dastehen.
note-absurd-tenths = { $column }: Solche Temperaturen in °C hat keine Stunde. Sind es Zehntel, etwa 215 für 21,5? Die Werte wurden genommen, wie sie dastehen.
note-off-curve = { $column }, Zeile { $line }: { $written } passt nicht zu den Werten davor und danach: bitte ansehen. Der Wert wurde genommen, wie er dasteht.
note-off-curve-out = { $column }, Zeile { $line }: { $written } passt nicht zu den Werten davor und danach: bitte ansehen. Der Wert bleibt weg; die Tabelle bleibt, wie sie ist.
note-off-curve-meant = { $column }, Zeile { $line }: { $written } passt nicht zu den Werten davor und danach; ist { $perhaps } gemeint? Der Wert bleibt weg, bis die Tabelle es sagt.
note-swapped = Zeile { $line }: Die Werte von { $one } und { $other } passen nur vertauscht. Beide bleiben weg, bis die Tabelle es sagt.
note-row-repeated = Zeile { $line } wiederholt die Werte der Zeile davor, und diese passen nicht zu den Zeilen ringsum. Sie bleibt weg; die Tabelle bleibt, wie sie ist.
note-table-below = Unter der ersten Tabelle, ab Zeile { $line }, hat eine weitere gleich benannte Proben zu denselben Zeiten: Sie wurde weggelassen. Kam sie später, müssen ihre Zeiten nach denen der ersten weiterzählen; sonst gehört sie in eine eigene Datei.
note-clock-back = Ab Zeile { $line } liegen die Zeiten eine Stunde hinter den Zeilen davor, wie beim Zurückstellen der Uhren: Die Stunde wurde herausgerechnet. Wurde keine Uhr umgestellt, bitte diese Zeiten berichtigen.
note-clock-ahead = Ab Zeile { $line } liegen die Zeiten eine Stunde weiter als in den Zeilen davor, wie beim Vorstellen der Uhren: Die Stunde wurde herausgerechnet. Verging dort wirklich eine Stunde, gehört das Spätere in eine eigene Datei.
note-pauses = { $count ->
    [one] Zwischen den Zeilen ist eine Pause von { $longest }, ab { $time }; sonst liegen sie { $usual } auseinander. Was inzwischen geschah, ist nicht bekannt.
   *[other] Zwischen den Zeilen sind { $count } Pausen, die längste von { $longest }, ab { $time }; sonst liegen sie { $usual } auseinander. Was inzwischen geschah, ist nicht bekannt.
}
note-groups = Jede Spalte ist als Probe gelesen, also { $samples } Proben unter einer Lampe. Sind es { $groups } Gruppen mit je einer Lampe, die Spalten jeder Gruppe mit den Zeiten davor in eine eigene Datei geben.
note-changed-places = { $one } und { $other } scheinen bei { $time } (Zeile { $row } der Messwerte) vertauscht worden zu sein: Von dort an stehen die Werte jeder Probe in der Spalte der anderen. Die Ergebnisse folgen aus Spalten, die von dieser Zeile an richtiggestellt wurden; was aufgezeichnet wurde, bleibt, wie es ist.
note-column-left-out = Die Spalte „{ $column }“ enthält keine Temperaturen und wurde weggelassen.
note-few-rows = { $count ->
    [one] Es gibt nur { $count } Zeile: zu wenig, um zu sagen, wann die Lampe an- oder ausging.
   *[other] Es gibt nur { $count } Zeilen: zu wenig, um zu sagen, wann die Lampe an- oder ausging.
}
note-no-values = { $sample }: Es gibt keinen einzigen Wert.
note-late = { $count ->
    [one] { $count } Zeile kam verspätet: Ihre Zeit ist nicht sicher, und nichts hier beruht auf ihr.
   *[other] { $count } Zeilen kamen verspätet, alle auf einmal: Ihre Zeiten sind nicht sicher, und nichts hier beruht auf ihnen.
}
note-missing = { $sample }: { $missing ->
    [one] { $missing } von { $count } Werten fehlt.
   *[other] { $missing } von { $count } Werten fehlen.
}
note-not-compared = { $sample } hat sich kaum erwärmt, wie die Luft eines Raums: es wird nicht verglichen.
note-ratio-rises = Das Verhältnis der Erwärmungen ist weggelassen: Die von { $sample } ist zu ungenau bekannt.
note-ratio-rates = Das Verhältnis der anfänglichen Erwärmungsraten ist weggelassen: Die von { $sample } ist zu ungenau bekannt.
note-unlike-one-lamp = { $sample } erwärmte sich um { $rise } °C und kühlte wieder ab, aber nicht wie unter einer Lampe, die einmal an- und ausgeht: Wurde sie verschoben, gedimmt oder verdeckt, ging eine zweite an, oder war es die Sonne? Das Diagramm zeigt, wann.
note-no-edge = In den Daten ist kein Zeitpunkt zu erkennen, zu dem die Lampe an- oder ausging.
note-lag-unknown = Die Unsicherheit der Schaltzeiten kommt vor allem von der unbekannten Verzögerung der Fühler und der Lampe; ist sie gemessen, wird sie kleiner.
note-never-off = Dass die Lampe ausging, ist nicht zu sehen: Höchstwert, Abfall und Abkühlen bleiben leer.
note-on-from-start = Die Lampe brannte schon vor der ersten Zeile, oder ihr Einschalten ist nicht zu erkennen: Der Anfang ist der erste Wert, eine Erwärmung davor ist unbekannt, und der Vergleich der Proben gilt nur für das, was zu sehen war.
note-moved = Ab { $time } kühlt { $sample } ab, während andere sich weiter erwärmen: Wurde die Probe oder ihr Fühler bewegt? Was danach kommt, zählt nicht zu ihren Ergebnissen.
note-no-sample = { $count ->
    [one] { $column }, Zeile { $line }: { $written } °C hat keine Probe; so etwas schreibt ein Board, dessen Fühler nicht antwortet, oder es ist ein Schreibfehler. Der Wert bleibt weg.
   *[other] { $column }, { $count }-mal ab Zeile { $line }: { $written } °C und dergleichen hat keine Probe; so etwas schreibt ein Board, dessen Fühler nicht antwortet. Diese Werte bleiben weg.
}
note-no-answer = { $sample } zeigte von { $time } bis { $until } nur { $degc } °C: Der Fühler antwortete nicht oder war nicht angesteckt. Diese Messwerte zählen nicht zu den Ergebnissen.
note-stood = { $sample } zeigte von { $time } bis { $until } immer dieselbe Zahl und sprang dann um { $leap } °C: Der Fühler hing, oder Zeilen wurden wiederholt. Diese Messwerte zählen nicht zu den Ergebnissen.
note-many-heatings = { $count ->
    [one] Die Lampe ging { $count }-mal an; die Werte gelten für dieses Erwärmen und das Abkühlen danach.
   *[other] Die Lampe ging { $count }-mal an; die Werte gelten für das erste Erwärmen und das Abkühlen danach.
}
note-no-start = { $sample }: keine Anfangstemperatur, denn es gibt keinen Messwert dafür.
note-no-peak = { $sample }: kein Höchstwert, denn vor dem Ausschalten der Lampe liegen zu wenige Messwerte.
note-no-heating-rate = { $sample }: keine Erwärmungsrate, denn im Erwärmen liegen zu wenige Messwerte, oder sein Beginn ist unbekannt.
note-heating-lagging = { $sample }: keine Erwärmungsrate, denn das Erwärmen ist kürzer als sechs Verzögerungen des Fühlers und zeigt vor allem diese.
note-heating-open = { $sample }: keine Erwärmungsrate, denn zu den Messwerten passt keine Kurve, die sagt, wie schnell das Erwärmen begann.
note-cooling-lagging = { $sample }: keine Abkühlungsrate, denn das Abkühlen ist kürzer als sechs Verzögerungen des Fühlers und zeigt vor allem diese.
note-cooling-open = { $sample }: keine Abkühlungsrate, denn zu den Messwerten passt keine Kurve, die sagt, wie schnell das Abkühlen begann.
note-no-time-constant = { $sample }: keine Zeitkonstante, denn das Abkühlen ist zu kurz oder zu gerade, um eine zu zeigen.
note-no-cooling-rate = { $sample }: keine Abkühlungsrate, denn im Abkühlen liegen zu wenige Messwerte.
note-no-value = { $sample }: hier kein Wert, denn die Daten geben keinen her.
note-no-mark =
    { $sample }: kein Wert bei { $time }{ $more ->
        [0] {""}
        [one] {" und "}{ $more } weiteren Marke
        *[other] {" und "}{ $more } weiteren Marken
    }, denn in der Nähe liegen zu wenige Messwerte.
note-mark-empty = In der Nähe dieser Zeit liegen zu wenige Messwerte.
note-ends-early = Die Aufzeichnung endet bei { $last }, vor der letzten geplanten Zeile der Tabelle bei { $time }: Diese bleibt leer.
note-too-many-marks = Im Abstand von { $interval } gäbe es mehr als { $limit } Zeilen der Tabelle; es steht keine da.
note-bad-marks = Die Zeilen der Tabelle können nicht { $interval } s auseinander liegen; es steht keine da.
note-not-as-planned = Geplant war die Lampe für { $planned }, die Daten sagen { $seen }.
note-unknown-prediction = Die Vorhersage nennt „{ $sample }“; so heißt keine der Proben.
note-nothing-to-predict = Ob die Vorhersage „{ $sample }“ stimmt, bleibt offen: Weniger als zwei Proben haben eine Erwärmung.
note-order-open = Die Erwärmungen unterscheiden sich um weniger als ihre Unsicherheit: Welche Probe sich am stärksten erwärmte, bleibt offen.
note-sheet-read = Aus der Arbeitsmappe wurde das Blatt „{ $sheet }“ gelesen; sie hat { $count ->
    [one] { $count } Blatt.
   *[other] { $count } Blätter.
}
note-probe = { $sample }: ab { $time } gab der Fühler Werte, die ein heiler nicht gäbe; in events.csv steht, welche, und wonach man sehen sollte.
