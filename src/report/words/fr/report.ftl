# Le compte rendu d’une leçon.
report-made-by = Compte rendu d’une expérience
report-short = En bref
report-rose = Sous la lampe, « { $sample } » s’est réchauffé de { $rise } °C.
report-fell = Sous la lampe, « { $sample } » s’est refroidi de { $fall } °C.
report-rose-not = Sous la lampe, « { $sample } » est resté à la même température.
report-warmed-most = L’échantillon « { $sample } » s’est réchauffé le plus : { $ratio } fois autant que « { $other } ».
report-warmed-most-plain = L’échantillon « { $sample } » s’est réchauffé le plus.
report-order-open = On ne peut pas dire quel échantillon s’est réchauffé le plus : la différence est trop petite.
report-no-lamp = Dans ces températures, on ne voit pas la lampe s’allumer ni s’éteindre. Il n’y a donc pas d’échauffement à comparer.
report-ranged = « { $sample } » était entre { $low } °C et { $high } °C, en moyenne { $mean } °C.
report-steady = « { $sample } » est resté à { $mean } °C.
report-done = Ce qu’on a fait
report-done-stood = { $n ->
    [one] Un échantillon se trouvait sous une lampe, avec un thermomètre dedans.
   *[other] { $n } échantillons se trouvaient sous une même lampe, à la même distance, chacun avec un thermomètre.
}
report-done-switched = On a allumé la lampe, puis on l’a éteinte.
report-done-switched-on = On a allumé la lampe.
report-done-switched-off = On a éteint la lampe ; le moment où on l’a allumée ne se voit pas.
report-done-to-switch = La lampe devait être allumée, puis éteinte.
report-done-written = { $n ->
    [one] La température a été notée tout le temps.
   *[other] Toutes les températures ont été notées aux mêmes instants.
}
report-done-table = { $n ->
    [one] Un tableau contient la température d’un échantillon. Comment il se trouvait sous la lampe et comment il a été lu, le tableau ne le dit pas.
   *[other] Un tableau contient les températures de { $n } échantillons. À quelle distance de la lampe se trouvait chacun, et s’ils ont été lus au même instant, le tableau ne le dit pas.
}
report-done-open = { $n ->
    [one] La température d’un échantillon a été notée tout le temps.
   *[other] Les températures de { $n } échantillons ont été notées aux mêmes instants.
}
report-fact-samples = Échantillons
report-fact-distance = De la lampe aux échantillons
report-fact-plan = Plan
report-fact-began = Début
report-fact-readings = Mesures
report-fact-board = Carte
report-fact-source = Source
report-every = { $rows }, une { $every }
report-board-speaks = { $board } (lignes : { $dialect })
report-board-own = celles de duskmark
report-plan-settle = attendre que chaque échantillon varie de moins de { $drift } °C par minute
report-plan-lamp = lampe allumée { $heat }, puis éteinte { $cool }
report-plan-for = enregistrer pendant { $time }
report-plan-marks = une ligne du tableau { $every }
report-prediction = La prédiction
report-predicted = La classe a prédit que « { $sample } » se réchaufferait le plus.
report-predicted-group = Le groupe { $group } a prédit que « { $sample } » se réchaufferait le plus.
report-predicted-none = Aucune prédiction n’a été notée. Avant de regarder les courbes : quel échantillon aurais-tu choisi, et pourquoi ?
report-right = C’était juste.
report-wrong = Ce n’était pas le cas, et cela vaut la peine d’en parler.
report-right-open = Ces données ne permettent pas de dire si c’était juste.
report-graph = Le graphique
report-graph-caption = Température de chaque échantillon au cours du temps. La bande claire est le temps où la lampe est allumée ; les encoches en bas sont les lignes du tableau.
report-graph-caption-open = Température de chaque échantillon au cours du temps.
report-table = Le tableau
report-table-caption = Température de chaque échantillon, comptée à partir de l’allumage de la lampe (0 min).
report-table-caption-written = Température de chaque échantillon, comptée à partir de la ligne la plus proche de l’allumage de la lampe (0 min).
report-table-caption-open = Température de chaque échantillon, comptée à partir du début (0 min).
report-table-none = Il n’y a pas de tableau : aucun intervalle n’a été demandé. Avec --marks { $every }, il y en a un.
report-table-more = { $n ->
    [one] { $n } autre ligne se trouve dans lesson.xlsx.
   *[other] { $n } autres lignes se trouvent dans lesson.xlsx.
}
report-plus-minus = ± : la vraie valeur est dans cet intervalle avec environ 95 % de confiance (incertitude élargie, k = 2).
report-column-time = Temps / min
report-column-phase = Phase
report-column-sample = { $sample } / °C
report-happened = Ce qui s’est passé
report-lamp-on-at = La lampe s’est allumée à { $at } (min:s depuis le début) ; on est sûr à { $level } % que c’était entre { $low } et { $high }.
report-lamp-on-at-by-table = La lampe s’est allumée à { $at } (selon les temps du tableau) ; on est sûr à { $level } % que c’était entre { $low } et { $high }.
report-lamp-on-at-by-clock = D’après l’horloge du tableau, la lampe s’est allumée à { $at } ; on est sûr à { $level } % que c’était entre { $low } et { $high }.
report-lamp-off-at = La lampe s’est éteinte à { $at } ; on est sûr à { $level } % que c’était entre { $low } et { $high }.
report-lamp-off-at-by-clock = La lampe s’est éteinte à { $at } ; on est sûr à { $level } % que c’était entre { $low } et { $high }.
report-lamp-on-before = La lampe s’est allumée { $before } avant le début ; on est sûr à { $level } % que c’était entre { $low } et { $high } (min:s).
report-first-warming = Au début, « { $sample } » se réchauffait d’environ { $rate } °C par minute.
report-first-cooling = La lampe éteinte, « { $sample } » se refroidissait au début d’environ { $rate } °C par minute.
report-time-constant = Ensuite, aussi loin qu’on l’a observé, « { $sample } » se refroidissait vers { $level } °C ; il lui fallait environ { $time } pour les deux tiers de ce chemin (exactement : 63 %).
report-slowing = Un échantillon se réchauffe et se refroidit de plus en plus lentement : plus il est chaud par rapport à l’air, plus il cède de chaleur.
report-numbers = Les nombres, pour l’enseignant
report-numbers-caption = ± compte la dispersion, la résolution et ce qui dure d’une mesure à l’autre. L’écart des sondes elles-mêmes n’y est pas, tant qu’elles ne sont pas étalonnées.
report-numbers-caption-calibrated = ± compte la dispersion, la résolution, ce qui dure d’une mesure à l’autre, et l’étalonnage des sondes.
report-numbers-caption-matched = ± compte la dispersion, la résolution, ce qui dure d’une mesure à l’autre, et l’accord des sondes après leur mise en accord. Leur écart commun n’y est pas compris.
report-value-start = Température initiale / °C
report-value-peak = Maximum / °C
report-value-end = Température finale / °C
report-value-rise = Hausse / °C
report-value-fall = Baisse / °C
report-value-heating = Vitesse initiale d’échauffement / (°C/min)
report-value-cooling = Vitesse initiale de refroidissement / (°C/min)
report-value-constant = Constante de temps du refroidissement / s
report-value-air = Se refroidit vers / °C
report-value-lowest = Valeur la plus basse / °C
report-value-highest = Valeur la plus haute / °C
report-value-mean = Moyenne dans le temps / °C
report-ratio-rise = Rapport des hausses, « { $most } » / « { $least } » : { $ratio }.
report-ratio-rate = Rapport de leurs vitesses initiales d’échauffement : { $ratio }.
report-lamp-table = Allumage et extinction de la lampe, en secondes depuis le début
report-lamp-table-by-clock = Allumage et extinction de la lampe, d’après l’horloge du tableau
report-lamp-table-by-table = Allumage et extinction de la lampe, en secondes selon les temps du tableau
report-lamp-edge = Lampe
report-lamp-on = allumée
report-lamp-off = éteinte
report-lamp-at = Instant / s
report-lamp-at-clock = Heure
report-lamp-between-clock = Intervalle à { $level } %
report-lamp-between = Intervalle à { $level } % / s
report-lamp-range = { $low } à { $high }
report-lamp-planned = Prévu / s
report-lamp-late = Après l’instant prévu / s
report-was-late = C’était { $by } s après l’instant prévu.
report-was-early = C’était { $by } s avant l’instant prévu.
report-was-on-time = C’était l’instant prévu.
report-meaning = Ce que cela dit de la chaleur, et ce que cela ne dit pas
report-meaning-first = La même lampe éclaire tous les échantillons. Pourtant ils se réchauffent différemment. Trois choses décident :
report-meaning-colour = La couleur : une surface sombre absorbe plus de lumière qu’une surface claire.
report-meaning-water = L’eau : quand l’eau s’évapore, elle emporte de la chaleur ; un échantillon mouillé reste donc plus frais.
report-meaning-mass = La capacité thermique : certains matériaux ont besoin de plus de chaleur que d’autres pour gagner un degré. L’eau en demande beaucoup.
report-meaning-not = Notre graphique montre de combien chaque échantillon s’est réchauffé. Il ne peut pas montrer à lui seul laquelle des trois choses en est la raison, car les échantillons diffèrent par toutes à la fois. Pour le savoir, on n’en change qu’une : deux échantillons du même matériau, l’un sec et l’autre mouillé, ou l’un sombre et l’autre clair.
report-meaning-formula = Pour l’enseignant : vitesse initiale d’échauffement = puissance absorbée par surface ÷ capacité thermique par surface. Seuls des échantillons qui absorbent autant et se réchauffent sur la même profondeur ont des vitesses initiales dans le rapport inverse de leurs capacités thermiques volumiques ; aucune capacité thermique n’est déduite ici.
report-meaning-handbook = Valeurs de manuel en MJ/(m³·K) : eau { $water }, sol de tourbe saturé { $wet } et sec { $dry }, quartz { $quartz }, minéral argileux { $clay } (Moene et van Dam, Transport in the Atmosphere-Vegetation-Soil Continuum, Cambridge University Press 2014, tableau 2.2).
report-quality = La qualité des données
report-complete = Aucune mesure ne manque.
report-cut-off = L’enregistrement a été coupé avant sa fin ; tout ce qui précède est là.
report-going-on = L’enregistrement est encore en cours ; voici où il en est.
report-damage = { $n ->
    [one] L’enregistrement est abîmé à { $n } endroit ; ce qui était lisible est utilisé.
   *[other] L’enregistrement est abîmé à { $n } endroits ; ce qui était lisible est utilisé.
}
report-uncalibrated = Les sondes n’ont pas été étalonnées pour cette expérience : une différence constante de quelques dixièmes de degré entre elles passerait inaperçue. Les hausses et les vitesses n’en souffrent guère.
report-uncalibrated-table = Le tableau ne dit pas si les sondes ont été étalonnées : une différence constante de quelques dixièmes de degré entre elles passerait inaperçue. Les hausses et les vitesses n’en souffrent guère.
report-calibrated = { $sample } : étalonnage connu à ± { $u } °C.
report-matched = { $sample } : accordée aux autres sondes à ± { $u } °C ; leur écart commun n’est pas connu.
report-calibrated-by = { $sample } : { $kind } du { $day }, { $days ->
    [0] moins d’un jour
    [one] { $days } jour
   *[other] { $days } jours
} avant l’expérience.
calibration-match = accord dans un même bain
calibration-ice = point de glace
calibration-boil = point d’ébullition
calibration-constants = constantes d’après des points de référence
calibration-line = droite de correction d’après des points de référence
calibration-lag = retard
report-events = Ce que l’enregistrement a noté
report-event-of = { $what } : { $n ->
    [one] { $n } fois
   *[other] { $n } fois
}
report-flags = Lignes avec une remarque
report-flag-of = { $what } : { $rows }
event-gap = pause sans mesures
event-port-lost = carte débranchée ou perdue
event-reset = la carte a redémarré
event-bad-line = lignes de la carte non comprises
event-wrong-channels = ligne avec un mauvais nombre de valeurs
event-other-board = une autre carte a répondu
event-probe = sonde en panne ou revenue
event-missing = mesures perdues avant d’être gardées
event-resume = reprise après une interruption
event-suspend = l’ordinateur était en veille
event-clock-step = l’horloge de l’ordinateur a été réglée
event-journal-damage = endroit abîmé de l’enregistrement
event-early-lines = lignes plus anciennes que l’expérience
report-notes = Notes
report-note = { $at } – { $text }
report-note-late = { $at } – { $text } (noté après coup, { $when })
event-hand-mark = instant marqué à la main
event-hand-lamp-on = signalé à la main : lampe allumée
event-hand-lamp-off = signalé à la main : lampe éteinte
event-hand-go-on = étape passée à la main
event-renamed = échantillon renommé après coup
event-other = autres remarques ({ $code })
flag-lost = des lignes de la carte ne sont pas arrivées entières juste avant
flag-gap = première ligne après une pause
flag-reset = première ligne après le redémarrage de la carte
flag-merged = plusieurs lignes réunies
flag-late = arrivée en retard
flag-skewed = échantillons pas lus tout à fait au même instant
flag-interpolated = interpolée entre les lignes propres de la carte
flag-probe = { $column } : { $fault }
flag-other = { $code }
fault-no-reading = pas de mesure
fault-power-on = pas encore mesuré (85 °C à la mise sous tension)
fault-not-a-number = pas un nombre
fault-open = fil coupé ou fiche desserrée
fault-short = les fils se touchent
fault-out-of-range = hors limites
fault-other-board = une autre carte a répondu
fault-absent = sa carte n’a rien envoyé d’assez proche
report-method = Comment on a calculé
report-method-edges = Lampe : tous les échantillons partagent une seule lampe ; un même modèle de corps qui se réchauffent et se refroidissent est donc ajusté à tous à la fois. L’intervalle contient le vrai instant au niveau indiqué.
report-method-lags = Les retards de la sonde et de la lampe ne sont pas déclarés : on suppose { $probe } s (incertitude-type { $probeu } s) et { $lamp } s ({ $lampu } s), et l’intervalle en tient compte.
report-method-lags-declared = Les retards déclarés sont retirés : { $lags }.
report-method-lags-calibrated = Les retards des sondes ont été trouvés par étalonnage et sont retirés : { $lags }.
report-method-lag-probe = sonde { $lag } s
report-method-lag-lamp = lampe { $lag } s
report-method-marks = Tableau : pour chaque ligne, une droite ou une parabole est ajustée aux mesures à moins de 15 s, du même côté de l’allumage ou de l’extinction ; des mesures espacées sont reliées par une droite. Rien n’est comblé à travers une pause.
report-method-rates = Vitesses et constantes de temps : des exponentielles ajustées à chaque phase par moindres carrés, une ou, là où une surface est plus rapide que ce qui est dessous, deux ; la vitesse initiale est leur pente au moment où la lampe change. De lignes espacées de minutes on prend les premières, depuis la température à ce moment ; ce qui a été plus rapide entre elles ne se voit pas.
report-method-uncertainty = Les incertitudes suivent le GUM (JCGM 100:2008). ± est l’incertitude élargie avec k = 2, qui contient la vraie valeur dans environ 95 % des cas ; elle a deux chiffres significatifs, et la valeur est arrondie au même rang. Le classeur et les fichiers ont des incertitudes-types, la moitié de celle-ci.
report-method-files = Les mêmes nombres se trouvent dans marks.csv et summary.json. Créé avec duskmark { $version }.
report-method-no-files = Créé avec duskmark { $version }.
report-method-files-other = Dans marks.csv et summary.json, ces températures sont en degrés Celsius. Créé avec duskmark { $version }.
report-quantities = { $sample } ({ $list })
