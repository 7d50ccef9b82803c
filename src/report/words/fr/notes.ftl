# Doutes sur les données, une phrase chacun.
note-not-numbers = { $column } : { $count ->
    [one] { $count } cellule n’est pas un nombre et compte comme manquante (ligne { $line }).
   *[other] { $count } cellules ne sont pas des nombres et comptent comme manquantes (la première à la ligne { $line }).
}
note-no-time = { $count ->
    [one] { $count } ligne sans heure utilisable a été laissée de côté (ligne { $line }).
   *[other] { $count } lignes sans heure utilisable ont été laissées de côté (la première : ligne { $line }).
}
note-sorted = Les lignes ne sont pas dans l’ordre du temps et ont été triées (la première à la ligne { $line }).
note-same-time = { $count ->
    [one] { $count } ligne répète l’heure d’une autre et a été laissée de côté (ligne { $line }).
   *[other] { $count } lignes répètent l’heure d’une autre ; la première de chaque heure est gardée (première laissée de côté : ligne { $line }).
}
note-titles = { $count ->
    [one] { $count } ligne au-dessus des titres de colonnes a été sautée ; les titres sont à la ligne { $line }.
   *[other] { $count } lignes au-dessus des titres de colonnes ont été sautées ; les titres sont à la ligne { $line }.
}
note-turned = Le tableau est couché, ses temps sont sur une ligne ; il a été redressé. Une ligne nommée ici est une colonne du fichier.
note-encoding = Le texte n’est pas en UTF-8 ; il a été lu comme { $encoding }.
note-time-unit = La colonne du temps « { $column } » ne donne pas d’unité ; on a supposé des { $unit }. Sinon, écrire l’unité dans l’en-tête.
note-unit-milliseconds = millisecondes
note-unit-seconds = secondes
note-unit-minutes = minutes
note-unit-hours = heures
note-unit-days = jours
note-unit-clock = heures et minutes de la journée
note-unit-minutes-seconds = minutes et secondes
note-other-unit = { $column } : ces nombres ont été lus en °C et ressemblent à des { $unit }. Si c’est le cas, écrire { $unit } dans l’en-tête.
note-slip = { $column }, ligne { $line } : { $written } est loin de toutes les autres valeurs. La valeur a été prise telle quelle.
note-slip-meant = { $column }, ligne { $line } : { $written } est loin de toutes les autres valeurs ; est-ce { $perhaps } ? La valeur est laissée de côté jusqu’à ce que le tableau le dise.
note-point-taken = Les temps de « { $column } » ne sont réguliers que lus en minutes et secondes (1.30 pour 1 min 30 s) et ont été lus ainsi. Si ce sont des minutes décimales, écrire des temps comme 1:30.
note-point = Les temps de « { $column } » peuvent être des minutes et secondes (1.30 pour 1 min 30 s) ; ils ont été lus comme minutes décimales. Sinon, écrire des temps comme 1:30.
note-hours-long = D’après les temps de « { $column } », le tableau dure { $hours } heures. Si 1:00:00 veut dire une minute, écrire 1:00 ou 0:01:00.
note-table-beside = À côté du premier tableau, à partir de la colonne { $place }, un autre a des échantillons de mêmes noms aux mêmes temps : il a été laissé de côté. S’il est venu après, continuer les temps du premier ; sinon, en faire un fichier à part.
note-difference = La colonne « { $column } » est { $of } moins { $from }, ce n’est pas un échantillon ; elle a été laissée de côté.
note-mean-of = La colonne « { $column } » est la moyenne de { $from }, ce n’est pas un échantillon ; elle a été laissée de côté.
note-sum-of = La colonne « { $column } » est la somme de { $from }, ce n’est pas un échantillon ; elle a été laissée de côté.
note-quotient-of = La colonne « { $column } » est { $of } divisé par { $by }, ce n’est pas un échantillon ; elle a été laissée de côté.
note-rise-of = La colonne « { $column } » est { $from } moins sa première valeur, ce n’est pas un échantillon ; elle a été laissée de côté.
note-unit-of = La colonne « { $column } » est { $from } dans une autre unité, ce n’est pas un échantillon ; elle a été laissée de côté.
note-line-for-each = Chaque ligne du tableau est une mesure, son échantillon est nommé sous « { $column } » ; celles d’un même temps ont été mises côte à côte. Une ligne nommée ici est celle de la première d’entre elles.
note-anew-at-once = À partir de la ligne { $line }, les temps recommencent. Ils ont été lus comme continuant depuis la ligne précédente, au même instant. Sinon, écrire la suite des temps.
note-anew-later = À partir de la ligne { $line }, les temps recommencent. Ils ont été lus comme continuant un pas après la ligne précédente. Sinon, écrire la suite des temps.
note-time-slip = Ligne { $line } : le temps { $written } ne va pas avec les lignes voisines, qui laissent la place pour { $room }. La ligne est laissée de côté jusqu’à ce que le tableau le dise.
note-absurd = { $column } : aucun cours n’a de telles températures en °C. Vérifier l’en-tête et son unité. Les valeurs ont été prises telles quelles.
note-absurd-tenths = { $column } : aucun cours n’a de telles températures en °C. Sont-ce des dixièmes, comme 215 pour 21,5 ? Les valeurs ont été prises telles quelles.
note-off-curve = { $column }, ligne { $line } : { $written } ne va pas avec les valeurs d’avant et d’après : à vérifier. La valeur a été prise telle quelle.
note-off-curve-out = { $column }, ligne { $line } : { $written } ne va pas avec les valeurs d’avant et d’après : à vérifier. La valeur est laissée de côté ; le tableau reste tel quel.
note-off-curve-meant = { $column }, ligne { $line } : { $written } ne va pas avec les valeurs d’avant et d’après ; est-ce { $perhaps } ? La valeur est laissée de côté jusqu’à ce que le tableau le dise.
note-swapped = Ligne { $line } : les valeurs de { $one } et de { $other } ne vont qu’échangées. Les deux sont laissées de côté jusqu’à ce que le tableau le dise.
note-row-repeated = La ligne { $line } répète les valeurs de la ligne précédente, qui ne vont pas avec les lignes voisines. Elle est laissée de côté ; le tableau reste tel quel.
note-table-below = Sous le premier tableau, à partir de la ligne { $line }, un autre a des échantillons de mêmes noms aux mêmes temps : il a été laissé de côté. S’il est venu après, continuer les temps du premier ; sinon, en faire un fichier à part.
note-clock-back = À partir de la ligne { $line }, les heures ont une heure de retard sur les lignes précédentes, comme quand on retarde les horloges : cette heure a été retirée. Si aucune horloge n’a été changée, corriger ces heures.
note-clock-ahead = À partir de la ligne { $line }, les heures ont une heure d’avance sur les lignes précédentes, comme quand on avance les horloges : cette heure a été retirée. S’il s’est vraiment passé une heure, mettre la suite dans un fichier à part.
note-pauses = { $count ->
    [one] Entre les lignes, il y a une pause de { $longest }, à partir de { $time } ; d’ordinaire, elles sont espacées de { $usual }. On ne sait pas ce qui s’est passé entre-temps.
   *[other] Entre les lignes, il y a { $count } pauses, la plus longue de { $longest }, à partir de { $time } ; d’ordinaire, elles sont espacées de { $usual }. On ne sait pas ce qui s’est passé entre-temps.
}
note-groups = Chaque colonne est lue comme un échantillon, donc { $samples } échantillons sous une seule lampe. Si ce sont { $groups } groupes avec chacun sa lampe, donner les colonnes de chaque groupe, précédées des temps, dans un fichier à part.
note-changed-places = « { $one } » et « { $other } » semblent avoir échangé leurs places à { $time } (ligne { $row } des mesures) : à partir de là, les valeurs de chacun continuent dans la colonne de l’autre. Les résultats viennent de colonnes remises en ordre à partir de cette ligne ; ce qui a été enregistré reste tel quel.
note-column-left-out = La colonne « { $column } » ne contient pas de températures et a été laissée de côté.
note-few-rows = { $count ->
    [one] Il n’y a que { $count } ligne : trop peu pour dire quand la lampe s’est allumée ou éteinte.
   *[other] Il n’y a que { $count } lignes : trop peu pour dire quand la lampe s’est allumée ou éteinte.
}
note-no-values = { $sample } : il n’y a aucune valeur.
note-late = { $count ->
    [one] { $count } ligne est arrivée en retard : son heure n’est pas sûre, et rien ici n’en découle.
   *[other] { $count } lignes sont arrivées en retard, toutes à la fois : leurs heures ne sont pas sûres, et rien ici n’en découle.
}
note-missing = { $sample } : il manque { $missing ->
    [one] { $missing } valeur
   *[other] { $missing } valeurs
} sur { $count }.
note-not-compared = « { $sample } » s’est à peine réchauffé, comme l’air d’une pièce : on ne le compare pas.
note-ratio-rises = Le rapport des échauffements est laissé de côté : celui de « { $sample } » est trop mal connu.
note-ratio-rates = Le rapport des vitesses initiales d’échauffement est laissé de côté : celle de « { $sample } » est trop mal connue.
note-unlike-one-lamp = « { $sample } » s’est réchauffé de { $rise } °C puis a refroidi, mais pas comme sous une lampe qui s’allume et s’éteint une seule fois : a-t-elle été déplacée, atténuée ou masquée, une autre s’est-elle allumée, ou était-ce le soleil ? Le graphique montre quand.
note-no-edge = Les données ne montrent aucun instant où la lampe s’est allumée ou éteinte.
note-lag-unknown = L’incertitude des instants de la lampe vient surtout du retard inconnu des sondes et de la lampe ; un retard mesuré la réduirait.
note-never-off = On ne voit pas la lampe s’éteindre : maximum, baisse et refroidissement restent vides.
note-on-from-start = La lampe était allumée avant la première ligne, ou son allumage ne se voit pas : le début est la première valeur, un échauffement d’avant est inconnu, et la comparaison des échantillons ne vaut que pour ce qui a été vu.
note-moved = À partir de { $time }, { $sample } refroidit tandis que d’autres continuent de se réchauffer : l’échantillon ou sa sonde a-t-il été déplacé ? La suite ne compte pas dans ses résultats.
note-no-sample = { $count ->
    [one] { $column }, ligne { $line } : { $written } °C n’est la température d’aucun échantillon ; c’est ce qu’écrit une carte dont la sonde ne répond pas, ou une faute. La valeur est laissée de côté.
   *[other] { $column }, { $count } fois à partir de la ligne { $line } : { $written } °C et autres ne sont la température d’aucun échantillon ; c’est ce qu’écrit une carte dont la sonde ne répond pas. Ces valeurs sont laissées de côté.
}
note-no-answer = « { $sample } » n’a affiché que { $degc } °C de { $time } à { $until } : la sonde ne répondait pas, ou n’était pas branchée. Ces mesures ne comptent pas dans les résultats.
note-stood = { $sample } a affiché un seul et même nombre de { $time } à { $until }, puis a sauté de { $leap } °C : la sonde était bloquée, ou des lignes ont été répétées. Ces mesures ne comptent pas dans les résultats.
note-many-heatings = { $count ->
    [one] La lampe s’est allumée { $count } fois ; les valeurs sont celles de ce chauffage et du refroidissement qui suit.
   *[other] La lampe s’est allumée { $count } fois ; les valeurs sont celles du premier chauffage et du refroidissement qui suit.
}
note-no-start = { $sample } : pas de température initiale, car aucune mesure ne la donne.
note-no-peak = { $sample } : pas de maximum, car il y a trop peu de mesures avant l’extinction de la lampe.
note-no-heating-rate = { $sample } : pas de vitesse d’échauffement, car il y a trop peu de mesures pendant le chauffage, ou son début est inconnu.
note-heating-lagging = { $sample } : pas de vitesse d’échauffement, car le chauffage dure moins de six retards de la sonde, et c’est surtout eux qu’il montre.
note-heating-open = { $sample } : pas de vitesse d’échauffement, car aucune courbe qui dise comment le chauffage a commencé ne suit les mesures.
note-cooling-lagging = { $sample } : pas de vitesse de refroidissement, car le refroidissement dure moins de six retards de la sonde, et c’est surtout eux qu’il montre.
note-cooling-open = { $sample } : pas de vitesse de refroidissement, car aucune courbe qui dise comment le refroidissement a commencé ne suit les mesures.
note-no-time-constant = { $sample } : pas de constante de temps, car le refroidissement est trop court ou trop droit pour en montrer une.
note-no-cooling-rate = { $sample } : pas de vitesse de refroidissement, car il y a trop peu de mesures pendant le refroidissement.
note-no-value = { $sample } : pas de valeur ici, car les données n’en donnent pas.
note-no-mark =
    { $sample } : pas de valeur à { $time }{ $more ->
        [0] {""}
        [one] {" et à "}{ $more } autre repère
        *[other] {" et à "}{ $more } autres repères
    }, car il y a trop peu de mesures à proximité.
note-mark-empty = Il y a trop peu de mesures près de cet instant.
note-ends-early = L’enregistrement s’arrête à { $last }, avant la dernière ligne prévue du tableau à { $time } : celle-ci reste vide.
note-too-many-marks = Avec un intervalle de { $interval }, le tableau aurait plus de { $limit } lignes ; il n’y en a aucune.
note-bad-marks = Les lignes du tableau ne peuvent pas être espacées de { $interval } s ; il n’y en a aucune.
note-not-as-planned = La lampe devait rester allumée { $planned }, les données disent { $seen }.
note-unknown-prediction = La prédiction nomme « { $sample } », qui n’est pas un des échantillons.
note-nothing-to-predict = On ne peut pas dire si la prédiction « { $sample } » était juste : moins de deux échantillons ont un échauffement.
note-order-open = Les échauffements diffèrent de moins que leur incertitude : on ne peut pas dire quel échantillon a chauffé le plus.
note-sheet-read = La feuille « { $sheet } » du classeur a été lue ; il a { $count ->
    [one] { $count } feuille.
   *[other] { $count } feuilles.
}
note-probe = { $sample } : à partir de { $time }, la sonde a donné des valeurs qu’une sonde saine ne donnerait pas ; events.csv dit lesquelles, et quoi vérifier.
