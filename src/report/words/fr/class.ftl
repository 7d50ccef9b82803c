# La page d’une classe : toutes les tables ensemble.
class-title = Classe
class-count = { $n ->
    [one] { $n } table.
   *[other] { $n } tables.
}
class-lead = En moyenne dans la classe, { $upper } s’est réchauffé { $ratio } fois autant que { $lower } ; avec 95 % de certitude, la valeur commune des tables est entre { $low } et { $high } ({ $n ->
    [one] { $n } table
   *[other] { $n } tables
}).
class-no-lead = Pas de rapport pour la classe : { $why }.
class-picture = Toutes les courbes sur une image
class-picture-caption = Traits fins : chaque table, comptée à partir du moment où sa lampe s’est allumée. En gras : la médiane de chaque matériau sur les tables dont la lampe est restée allumée aussi longtemps. Teinté : l’étendue entre elles.
class-table = Table par table
class-table-caption = Chaque valeur est arrondie selon sa propre incertitude ou au centième (rapports : au millième) ; un astérisque marque ce qui s’écarte des autres tables. Les incertitudes-types sont dans le classeur.
class-bench = Table
class-heated = Lampe allumée / min
class-start = Température initiale / °C
class-rise = Hausse / °C
class-fall = Baisse / °C
class-heating = Vitesse initiale d’échauffement / (°C/min)
class-cooling = Vitesse initiale de refroidissement / (°C/min)
class-constant = Constante de temps / s
class-ratio-rise = Rapport des hausses, { $upper } / { $lower }
class-ratio-rate = Rapport des vitesses initiales d’échauffement, { $upper } / { $lower }
class-together = Toutes les tables ensemble
class-together-caption = Valeur combinée : moyenne pondérée des tables qui ne s’écartent pas. ± : leur valeur commune est dans cet intervalle avec 95 % de confiance (incertitude élargie ; k d’après le t de Student, plus de 2 pour peu de tables). Intra-table : ce que les relevés d’une table laissent ouvert (incertitude-type). Inter-tables : ce dont les tables diffèrent au-delà (écart-type).
class-quantity = Grandeur
class-of = { $sample } : { $quantity }
class-n = Tables
class-median = Médiane
class-range = De la plus petite à la plus grande
class-range-value = { $low } à { $high }
class-robust = Dispersion (écart-type robuste)
class-pooled = Valeur combinée
class-within = Intra-table
class-between = Inter-tables
class-ratio = Le rapport, pour l’enseignant
class-ratio-of = Rapport des hausses, { $upper } / { $lower } : { $value } ; avec 95 % de confiance entre { $low } et { $high }, sur { $n } tables.
class-ratio-spread = Les relevés d’une seule table laissent { $within } ouvert (incertitude-type) ; au-delà, les tables diffèrent de { $between } (écart-type).
class-ratio-between = La dispersion vient donc surtout de la façon dont les tables étaient montées, non des thermomètres : davantage de relevés n’aideraient pas, plus de soin pour la distance, l’eau et la profondeur des sondes, oui.
class-ratio-within = La dispersion entre les tables n’est donc pas plus grande que leurs relevés ne l’expliquent.
class-ratio-all = Avec les tables qui s’écartent, la valeur combinée serait { $value }, avec 95 % de confiance entre { $low } et { $high }, sur { $n } tables.
class-apart = Tables qui s’écartent
class-apart-none = Aucune table ne s’écarte.
class-apart-few = Avec moins de cinq tables qui ont fait la même chose, on ne peut dire d’aucune qu’elle s’écarte.
class-apart-careful = Chaque cause ci-dessous n’est qu’une possibilité. Regardez d’abord la table.
class-apart-one = { $bench }, { $sample } : { $quantity } { $value } ; la médiane de la classe est { $median }. { $cause }
class-apart-all = { $bench }, tous les échantillons : { $quantity } du premier { $value } ; la médiane de la classe est { $median }. { $cause }
class-cause-nearer = Tous les échantillons se sont réchauffés plus qu’ailleurs : la lampe était peut-être plus proche ou plus forte.
class-cause-farther = Tous les échantillons se sont réchauffés moins qu’ailleurs : la lampe était peut-être plus loin, plus faible ou mal dirigée.
class-cause-drier = Cet échantillon seul s’est réchauffé davantage : il était peut-être plus sec, plus mince ou plus sombre, ou sa sonde était dans la lumière de la lampe.
class-cause-wetter = Cet échantillon seul s’est réchauffé moins : il était peut-être plus humide ou plus épais, à l’ombre, ou sa sonde touchait le verre ou le bac.
class-cause-probe = Il a refroidi à un autre rythme : sa sonde touchait peut-être le verre ou le bac, ou était placée autrement qu’aux autres tables.
class-cause-exchanged = Deux échantillons ont chauffé chacun comme l’autre ailleurs : leurs noms ou leurs sondes sont peut-être échangés.
class-cause-open = Les nombres ne disent pas pourquoi.
class-cause-start = Il a commencé à une autre température : il n’a peut-être pas eu le temps de se stabiliser, ou sa sonde indique autre chose ; comparez les sondes dans un même bain.
class-limits = Ce qui limite cela
class-limits-none = Toutes les tables ont fait la même chose, et toutes ont pu être lues.
class-warn-no-heating = { $bench } : on n’a pas vu la lampe s’allumer et s’éteindre ; sa hausse n’est pas réunie aux autres.
class-warn-heated = { $bench } : lampe allumée { $own } min, { $usual } min aux tables réunies ; les hausses ne sont pas réunies.
class-warn-cooled = { $bench } : refroidissement suivi { $own } min, { $usual } min aux tables réunies ; les baisses ne sont pas réunies.
class-warn-rows = { $bench } : { $own } s entre ses lignes, { $usual } s aux tables réunies ; ses premières vitesses ne sont pas réunies aux leurs.
class-warn-not-in-all = { $n ->
    [one] { $sample } : seule { $n } table sur { $of } a cet échantillon.
   *[other] { $sample } : seules { $n } tables sur { $of } ont cet échantillon.
}
class-warn-one-sample = { $bench } : un seul échantillon, donc pas de rapport.
class-warn-invented = Mesures inventées, de tables virtuelles : { $benches }.
class-warn-same-readings = { $input } a les mêmes relevés que { $bench } et n’est pas compté une seconde fois.
class-warn-left-out = { $input } a été laissé de côté : { $reason }
class-why-few = il faut au moins trois tables avec les deux échantillons qui ont fait la même chose, et il y en a { $n }
class-why-few-known = il faut au moins trois tables dont l’incertitude est connue
class-why-few-alike = il faut au moins trois tables chauffées de la même façon
class-method = Comment on a calculé
class-method-names = Les échantillons sont les mêmes quand leurs noms le sont, majuscules ou non. On ne réunit que les tables dont la lampe est restée allumée aussi longtemps, à 5 % près.
class-method-robust = La dispersion est 1,4826 fois l’écart absolu médian, corrigé quand il y a peu de tables ; une table s’écarte au-delà de 3,5 fois cela (Iglewicz et Hoaglin 1993), si c’est au moins un dixième de la valeur.
class-method-pooled = Les valeurs combinées suivent le modèle à effets aléatoires avec la variance entre tables de Paule et Mandel (1982), les rapports en logarithmes ; les intervalles prennent le t de Student avec un degré de liberté de moins que de tables.
class-method-files = Les mêmes nombres sont dans class.xlsx et class.json. Créé avec duskmark { $version }.
class-caution = Avant la prochaine série : lampe, protection et pince deviennent brûlantes. Laissez refroidir, tenez papier, tissu, fiche et cordon loin d’elles et de l’eau, utilisez une prise protégée par un disjoncteur différentiel de 30 mA (au Québec : DDFT). Suivez les règles de l’école et du lieu ; l’électricité est l’affaire de personnes habilitées.
