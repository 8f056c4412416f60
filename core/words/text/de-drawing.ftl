# Titel, Beschriftungen und Beschreibungen der Zeichnungen auf Deutsch. Beschriftungen sind kurz: Ihr Platz ist schmal.

## Titel

drawn-bike-with-kit = { $bike } mit { $kit }
drawn-how-far = { $title }: wie weit das Ergebnis gilt
drawn-where-to-measure = Wo du misst: { $what }

## Schnitt durch das Steuerrohr

drawn-front = vorn
drawn-rear = hinten
drawn-head-tube-length = Steuerrohr { $length }
drawn-tilt = Kippung { $degrees }° { way-word }
drawn-place-enlarged = die markierte Stelle, { $times }-fach vergrößert
side-word = { $side ->
    [front] vorn
   *[rear] hinten
}
way-word = { $way ->
    [slacker] flacher
   *[steeper] steiler
}
drawn-touches = stößt um { $room } an, { side-word }; braucht { $needed } Luft
drawn-least-room = kleinste Luft { $room }, { side-word }; braucht { $needed }
drawn-ream = { $more } tiefer ausreiben, auf { $to }
drawn-remove = { $side ->
    [front] vorn { $depth } wegnehmen
    [rear] hinten { $depth } wegnehmen
   *[around] rundum { $depth } wegnehmen
}
drawn-remove-by-maker = { drawn-remove } (Angabe des Kit-Herstellers; erst trocken probieren)
drawn-seat-name = { $kind ->
    [seat] { $end ->
        [upper] Lagersitz oben
       *[lower] Lagersitz unten
    }
   *[bore] { $end ->
        [upper] Bohrung oben
       *[lower] Bohrung unten
    }
}
drawn-seat = { drawn-seat-name } { $diameter }
drawn-seat-not-measured = { drawn-seat-name } nicht gemessen
drawn-seat-look = { $end ->
    [upper] Lagersitz oben: wie er aussieht
   *[lower] Lagersitz unten: wie er aussieht
}
drawn-throat-name = { $end ->
    [upper] Engstelle oben
   *[lower] Engstelle unten
}
drawn-throat = { drawn-throat-name } { $diameter }
drawn-throat-not-measured = { drawn-throat-name } nicht gemessen
drawn-inside-not-measured = innen nicht gemessen
drawn-steerer-end-not-measured = unteres Ende des Gabelschafts nicht gemessen
drawn-old-axis = Achse des Steuerrohrs
drawn-new-axis = neue Lenkachse
drawn-section = Steuerrohr von { $length }, in der Lenkebene geschnitten, vorn ist rechts.
drawn-not-measured = nicht gemessen
drawn-part-diameter = Durchmesser { $value }
drawn-part-throat = Engstelle { $value }
drawn-end-name = { $end ->
    [upper] Oben
   *[lower] Unten
}
drawn-end = { $kind ->
    [seat] { drawn-end-name } ein Sitz für ein integriertes Lager: { $parts }.
   *[bore] { drawn-end-name } eine Bohrung für eine eingepresste Schale: { $parts }.
}
drawn-not-tilted = Die neue Lenkachse ist nicht gekippt.
drawn-tilted = Die neue Lenkachse ist um { $degrees } Grad gekippt, { way-word }.
drawn-room = Der Gabelschaft hat { side-word } nahe dem { $end ->
    [upper] oberen
   *[lower] unteren
} Ende { $room } Luft und braucht { $needed }.
drawn-at-throat = { drawn-throat-name }: { $words }.
drawn-at-bore = { $end ->
    [upper] Bohrung oben
   *[lower] Bohrung unten
}: { $words }.

## Seitenansicht

drawn-head-angle = Lenkwinkel
drawn-bottom-bracket-height = Höhe des Tretlagers
drawn-reach = Reach
drawn-stack = Stack
drawn-wheelbase = Radstand
drawn-trail = Nachlauf
drawn-before = vorher
drawn-after = nachher
drawn-unknown = unbekannt
drawn-head-tube-enlarged = das Steuerrohr, { $times }-fach vergrößert
drawn-axis-before = Achse vorher { $angle }°
drawn-axis-after = Achse nachher { $angle }°
drawn-side-view = Das Rad von rechts.
drawn-side-view-change = Das Rad von rechts, vorher (gestrichelt) und nachher (durchgezogen).
drawn-figure = { $unit ->
    [degrees] { $what }: { $value } Grad.
   *[mm] { $what }: { $value } mm.
}
drawn-figure-change = { $unit ->
    [degrees] { $what }: vorher { $before }, nachher { $after } Grad.
   *[mm] { $what }: vorher { $before }, nachher { $after } mm.
}

## Zahlenstrahlen

drawn-holds = Wie weit jede Größe anders sein könnte, alles andere wie es ist, bevor aus „{ $holds }“ eine andere Antwort wird; im hellen Band gilt sie, schraffiert ist außerhalb.
drawn-holds-row = { $what }: jetzt { $now }; { $beyond }.
drawn-below = unter { $at }: { $beyond }
drawn-above = über { $at }: { $beyond }

## Wo das Werkzeug hinkommt

drawn-not-on-a-tapered-head-tube = nicht an ein konisches Steuerrohr
drawn-not-on-the-down-tube = nicht ans Unterrohr
drawn-not-the-tyres-outer-edges = nicht die Außenkanten der Reifen
drawn-not-from-the-tyre-from-the-axle = nicht vom Reifen: von der Achse
drawn-not-to-the-tyre-to-the-axle = nicht zum Reifen: zur Achse
drawn-not-to-its-lower-edge = nicht bis zur Unterkante
drawn-level-at-the-rear-axles-height = waagerecht, auf Höhe der Hinterachse
drawn-not-down-to-the-ground = nicht bis zum Boden
drawn-not-at-the-stem-middle-of-the-head-tubes-top = nicht am Vorbau: Mitte oben am Steuerrohr
drawn-not-up-to-the-stem = nicht bis zum Vorbau
drawn-axle-with-the-rider-on = Achse mit Fahrer
drawn-to-a-mark-at-the-saddle-twice = bis zu einer Marke am Sattel, zweimal
drawn-not-from-the-ground-the-tyre-gives-way = nicht vom Boden: Der Reifen gibt nach
drawn-the-axles-height-taken-twice = die Höhe der Achse, doppelt genommen
drawn-not-the-rim = nicht die Felge
drawn-fork = Gabel
drawn-stays = Streben
drawn-not-at-the-rim = nicht an der Felge
drawn-widest-place-knobs-included = breiteste Stelle, mit Stollen
drawn-down-tube = Unterrohr
drawn-front-tyre-fork-fully-compressed = Vorderreifen, Gabel ganz eingedrückt
drawn-not-where-the-gap-is-wide-the-nearest-place = nicht wo der Abstand groß ist: die engste Stelle
drawn-not-from-the-races-top = nicht von der Oberkante des Konus
drawn-fork-crown = Gabelkrone
drawn-races-seat-race-off = Konussitz, ohne Konus
drawn-not-on-the-taper = nicht auf der Verjüngung
drawn-not-above-the-seat = nicht über dem Sitz
drawn-not-where-it-starts-to-narrow = nicht wo er dünner zu werden beginnt
drawn-not-where-it-has-become-thin = nicht wo er schon dünn ist
drawn-not-slanting-along-the-steerer = nicht schräg: entlang des Schafts
drawn-not-from-the-steerers-surface-from-its-middle = nicht von der Oberfläche des Schafts: von seiner Mitte
drawn-rubber-ring-pushed-up-by-the-seal = Gummiring, von der Dichtung hochgeschoben
drawn-seal = Dichtung
drawn-not-up-to-the-crown = nicht bis zur Krone
drawn-not-up-to-the-crown-some-stays-exposed = nicht bis zur Krone: Ein Stück bleibt frei
drawn-head-tube-cut-open = Steuerrohr, aufgeschnitten
drawn-not-on-the-bevel-at-the-mouth = nicht auf der Fase am Rand
drawn-not-past-the-shoulder = nicht hinter dem Absatz
drawn-not-the-seat = nicht den Sitz
drawn-not-on-the-shoulder = nicht auf dem Absatz
drawn-not-on-the-bevel = nicht auf der Fase
drawn-bearing-cut-open = Lager, aufgeschnitten
drawn-not-on-the-seal-alone = nicht nur auf der Dichtung
drawn-not-the-lip = nicht den Rand
drawn-the-part-that-is-pressed-in = der eingepresste Teil
drawn-cup-cut-open = Schale, aufgeschnitten
drawn-not-to-the-inner-ring = nicht bis zum Innenring
drawn-not-with-the-headsets-cover = nicht mit der Abdeckung
drawn-not-with-the-cap = nicht mit der Kappe
drawn-not-up-to-a-spacer = nicht bis zu einem Spacer
drawn-not-the-stems-body = nicht den Körper des Vorbaus
drawn-not-the-star-nut = nicht die Kralle
drawn-steerer = Gabelschaft
drawn-top-spacer = oberster Spacer
drawn-stem = Vorbau
drawn-not-only-to-the-races-upper-edge = nicht nur bis zur Oberkante des Konus
drawn-head-tube = Steuerrohr
drawn-not-up-to-the-covers-top = nicht bis oben auf die Abdeckung
drawn-nor-down-to-the-crown = auch nicht bis zur Krone
