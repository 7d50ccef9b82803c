# Wörter, die alle Seiten gemeinsam haben.
rows-counted = { $n ->
    [one] { $n } Zeile
   *[other] { $n } Zeilen
}
every-second = jede Sekunde
every-minute = jede Minute
every-hour = jede Stunde
every-day = jeden Tag
every-time = alle { $time }
phase-settling = Ruhe
phase-heating = Erwärmen
phase-cooling = Abkühlen
invented-readings = Diese Messwerte sind erfunden: Sie stammen von einem virtuellen Versuch.
caution-heading = Vorsicht
caution-lamp = Lampe, Schutzkorb und Klemme werden heiß und bleiben heiß. Schutzkorb benutzen, die Lampe an zwei Stellen befestigen, nicht anfassen, vor dem Umräumen abkühlen lassen.
caution-fire = Papier, Stoff und Haare von der Lampe fernhalten. Eine brennende Lampe nie allein lassen.
caution-water = Strom und Wasser sind auf einem Tisch: Kabel und Stecker bleiben weg von den Schalen und von nassen Händen; eine Steckdose mit Fehlerstrom-Schutzschalter (FI, RCD) benutzen.
caution-pour = Wasser nur nachfüllen, wenn die Lampe aus, abgekühlt und zur Seite geschwenkt ist: Kaltes Wasser kann eine heiße Birne zerspringen lassen.
caution-eyes = Nicht in die Lampe schauen.
caution-rules = Eine erwachsene Person ist die ganze Zeit dabei. Die Regeln der Schule und des Ortes gehen vor; Arbeiten an der Elektrik sind Sache von Fachleuten.
dash-why = Warum dort ein Strich steht:
