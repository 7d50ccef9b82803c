# Mots communs à toutes les pages.
rows-counted = { $n ->
    [one] { $n } ligne
   *[other] { $n } lignes
}
every-second = toutes les secondes
every-minute = toutes les minutes
every-hour = toutes les heures
every-day = tous les jours
every-time = toutes les { $time }
phase-settling = attente
phase-heating = chauffage
phase-cooling = refroidissement
invented-readings = Ces mesures sont inventées : elles viennent d’une expérience virtuelle.
caution-heading = Attention
caution-lamp = La lampe, sa grille et sa pince deviennent très chaudes et le restent. Utiliser une grille de protection, fixer la lampe en deux points, ne pas toucher, laisser refroidir avant de déplacer.
caution-fire = Tenir papier, tissu et cheveux loin de la lampe. Ne jamais laisser une lampe allumée sans surveillance.
caution-water = L’électricité et l’eau sont sur la même table : le câble et la fiche restent loin des bacs et des mains mouillées ; utiliser une prise protégée par un disjoncteur différentiel de 30 mA (au Québec : DDFT).
caution-pour = N’ajouter de l’eau que lampe éteinte, refroidie et écartée : l’eau froide peut faire éclater une ampoule chaude.
caution-eyes = Ne pas regarder la lampe en face.
caution-rules = Un adulte est présent tout le temps. Les règles de l’école et du lieu passent avant tout ; les travaux électriques sont réservés aux personnes habilitées.
dash-why = Pourquoi il y a un tiret :
