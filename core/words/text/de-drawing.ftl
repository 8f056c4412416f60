# Titel, Beschriftungen und Beschreibungen der Zeichnungen auf Deutsch. Beschriftungen sind kurz: Ihr Platz ist schmal.

## Titel

drawn-bike-with-kit = { $bike } mit { $kit }
drawn-how-far = { $title }: wie weit das Ergebnis gilt
drawn-where-to-measure = Wo du misst: { $what }

## Schnitt durch das Steuerrohr

drawn-front = vorn
drawn-rear = hinten
drawn-head-tube-length = Steuer­rohr { $length }
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
drawn-steerer-end-not-measured = unteres Ende des Gabel­schafts nicht gemessen
drawn-old-axis = Achse des Steuer­rohrs
drawn-new-axis = neue Lenk­achse
drawn-section = Steuerrohr von { $length }, in der Lenkebene geschnitten, vorn ist rechts.
drawn-not-measured = nicht gemessen
drawn-part-diameter = Durch­messer { $value }
drawn-part-throat = Eng­stelle { $value }
drawn-end-name = { $end ->
    [upper] Oben
   *[lower] Unten
}
drawn-end = { $kind ->
    [seat] { drawn-end-name } ein Sitz für ein integriertes Lager: { $parts }.
   *[bore] { drawn-end-name } eine Bohrung für eine eingepresste Schale: { $parts }.
}
drawn-not-tilted = Die neue Lenk­achse ist nicht gekippt.
drawn-tilted = Die neue Lenk­achse ist um { $degrees } Grad gekippt, { way-word }.
drawn-room = Der Gabel­schaft hat { side-word } nahe dem { $end ->
    [upper] oberen
   *[lower] unteren
} Ende { $room } Luft und braucht { $needed }.
drawn-at-throat = { drawn-throat-name }: { $words }.
drawn-at-bore = { $end ->
    [upper] Bohrung oben
   *[lower] Bohrung unten
}: { $words }.

## Seitenansicht

drawn-head-angle = Lenk­winkel
drawn-bottom-bracket-height = Höhe des Tret­lagers
drawn-reach = Reach
drawn-stack = Stack
drawn-wheelbase = Radstand
drawn-trail = Nachlauf
drawn-before = vorher
drawn-after = nachher
drawn-unknown = unbekannt
drawn-head-tube-enlarged = das Steuer­rohr, { $times }-fach vergrößert
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

drawn-not-on-a-tapered-head-tube = nicht an ein konisches Steuer­rohr
drawn-not-on-the-down-tube = nicht ans Unter­rohr
drawn-not-the-tyres-outer-edges = nicht die Außen­kanten der Reifen
drawn-not-from-the-tyre-from-the-axle = nicht vom Reifen: von der Achse
drawn-not-to-the-tyre-to-the-axle = nicht zum Reifen: zur Achse
drawn-not-to-its-lower-edge = nicht bis zur Unter­kante
drawn-level-at-the-rear-axles-height = waage­recht, auf Höhe der Hinter­achse
drawn-not-down-to-the-ground = nicht bis zum Boden
drawn-not-at-the-stem-middle-of-the-head-tubes-top = nicht am Vorbau: Mitte oben am Steuer­rohr
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
drawn-down-tube = Unter­rohr
drawn-front-tyre-fork-fully-compressed = Vorder­reifen, Gabel ganz ein­gedrückt
drawn-not-where-the-gap-is-wide-the-nearest-place = nicht wo der Abstand groß ist: die engste Stelle
drawn-not-from-the-races-top = nicht von der Ober­kante des Konus
drawn-fork-crown = Gabelkrone
drawn-races-seat-race-off = Konus­sitz, ohne Konus
drawn-not-on-the-taper = nicht auf der Ver­jüngung
drawn-not-above-the-seat = nicht über dem Sitz
drawn-not-where-it-starts-to-narrow = nicht wo er dünner zu werden beginnt
drawn-not-where-it-has-become-thin = nicht wo er schon dünn ist
drawn-not-slanting-along-the-steerer = nicht schräg: entlang des Schafts
drawn-not-from-the-steerers-surface-from-its-middle = nicht von der Ober­fläche des Schafts: von seiner Mitte
drawn-rubber-ring-pushed-up-by-the-seal = Gummi­ring, von der Dichtung hoch­geschoben
drawn-seal = Dichtung
drawn-not-up-to-the-crown = nicht bis zur Krone
drawn-not-up-to-the-crown-some-stays-exposed = nicht bis zur Krone: Ein Stück bleibt frei
drawn-head-tube-cut-open = Steuer­rohr, auf­geschnitten
drawn-not-on-the-bevel-at-the-mouth = nicht auf der Fase am Rand
drawn-not-past-the-shoulder = nicht hinter dem Absatz
drawn-not-the-seat = nicht den Sitz
drawn-not-on-the-shoulder = nicht auf dem Absatz
drawn-not-on-the-bevel = nicht auf der Fase
drawn-bearing-cut-open = Lager, auf­geschnitten
drawn-not-on-the-seal-alone = nicht nur auf der Dichtung
drawn-not-the-lip = nicht den Rand
drawn-the-part-that-is-pressed-in = der ein­gepresste Teil
drawn-cup-cut-open = Schale, auf­geschnitten
drawn-not-to-the-inner-ring = nicht bis zum Innen­ring
drawn-not-with-the-headsets-cover = nicht mit der Ab­deckung
drawn-not-with-the-cap = nicht mit der Kappe
drawn-not-up-to-a-spacer = nicht bis zu einem Spacer
drawn-not-the-stems-body = nicht den Körper des Vorbaus
drawn-not-the-star-nut = nicht die Kralle
drawn-steerer = Gabel­schaft
drawn-top-spacer = oberster Spacer
drawn-stem = Vorbau
drawn-not-only-to-the-races-upper-edge = nicht nur bis zur Ober­kante des Konus
drawn-head-tube = Steuer­rohr
drawn-not-up-to-the-covers-top = nicht bis oben auf die Ab­deckung
drawn-nor-down-to-the-crown = auch nicht bis zur Krone
