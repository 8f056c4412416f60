# Sätze der Berichte auf Deutsch. Größen kommen fertig geschrieben, mit ihrer Einheit.

## Wörter in Sätzen

list-and = { $all } und { $last }
list-or = { $all } oder { $last }
percent-unknown = unbekannt
percent-over-99 = über 99 %
percent-under-1 = unter 1 %

instrument-caliper = Messschieber
instrument-bore-gauge = Innenmessgerät
instrument-steel-rule = Stahlmaßstab
instrument-tape = Maßband
instrument-phone-level = Handy als Wasserwaage
instrument-angle-finder = Winkelmesser
instrument-maker-sheet = Herstellerangabe
instrument-photo = Foto
instrument-eye = Augenmaß

verdict-goes-in = passt
verdict-goes-in-after-work = passt nach Arbeit
verdict-measure-first = erst messen
verdict-will-not-go = passt nicht

claim-upper-seat = oberer Lagersitz
claim-lower-seat = unterer Lagersitz
claim-head-tube-length = Länge des Steuerrohrs
claim-upper-bore-depth = Tiefe der oberen Bohrung
claim-lower-bore-depth = Tiefe der unteren Bohrung
claim-upper-press-fit = Presssitz oben
claim-lower-press-fit = Presssitz unten
claim-upper-throat = obere Engstelle
claim-lower-throat = untere Engstelle
claim-steerer-length = Länge des Gabelschafts
claim-steerer-size = Maß des Gabelschafts
claim-bearing-recess = Tiefe des oberen Lagers
claim-hoses = Leitungen
claim-steering-stop = Lenkanschlag
claim-frame-material = Rahmenmaterial
claim-down-tube-clearance = Abstand zum Unterrohr
claim-bearing-condition = Zustand der Lager
claim-pressing-consent = Erlaubnis des Rahmenherstellers zum Einpressen

## Das Ergebnis

verdict-fits-if-bore = Passt, so wie das Rad ist, wenn die Bohrung so ausfällt wie gedacht: beachte den Halt bei den Arbeiten.
verdict-fits = Passt, so wie das Rad ist.
verdict-fits-after = { $jobs ->
    [one] Passt nach einer Arbeit: { $what }.
   *[other] Passt nach { $jobs } Arbeiten: { $what }.
}
verdict-not-together = Jede Anforderung ist für sich gut genug erfüllt, aber nicht alle zusammen; miss die knappsten genauer.
verdict-open = Noch nicht entschieden: { $what }.
verdict-does-not-fit = Passt nicht: { $what }.

## Anforderungen

contradicted = Messwerte widersprechen sich: { $what }. Miss neu und streiche den falschen, bevor das entschieden wird.
contradicted-item = { $what } ({ $least } und { $most })

consent-frame = { $frame ->
    [carbon] Das Steuerrohr ist aus Carbon
   *[unknown] Es ist nicht bekannt, woraus das Steuerrohr ist
}
consent-given = { consent-frame }. Der Hersteller des Rahmens erlaubt das Einpressen von Schalen.
consent-refused = { consent-frame }. Der Hersteller des Rahmens erlaubt das Einpressen von Schalen nicht.
consent-open = { consent-frame }, und die Schalen des Kits werden eingepresst: Frag zuerst den Hersteller des Rahmens, auch bevor eine Schale herauskommt. Eingeklebte Schalen bleiben drin.

material-nothing-cut = Es muss nichts abgetragen werden.
material-name = { $material ->
    [aluminium] Aluminium
    [steel] Stahl
    [titanium] Titan
    [carbon] Carbon
   *[not_known] unbekanntem Material
}
material-can-be-cut = Das Steuerrohr ist aus { material-name }: Eine Fachwerkstatt kann es bearbeiten.
material-could-be-cut = Das Steuerrohr ist aus { material-name }: Falls etwas abgetragen werden muss, kann das eine Fachwerkstatt.
material-carbon = Das Steuerrohr ist aus Carbon: nichts abtragen ohne schriftliche Erlaubnis des Rahmenherstellers.
material-unknown = Vielleicht muss etwas abgetragen werden: Finde zuerst heraus, woraus das Steuerrohr ist.

bore-depth-not-measured = Die Tiefe der { $end ->
    [upper] oberen
   *[lower] unteren
} Bohrung wurde nicht gemessen.
bore-is-deep = { $end ->
    [upper] Die obere Bohrung ist { $depth } tief
   *[lower] Die untere Bohrung ist { $depth } tief
}, die Schale braucht { $needed }
bore-depth-met = { bore-is-deep }.
bore-depth-ream = { bore-is-deep }; sie muss { $more } tiefer ausgerieben werden.
bore-depth-close-ream = { bore-is-deep }: zu knapp für eine Aussage, aber sie kann ausgerieben werden.
bore-depth-material = { bore-is-deep }; ob sie tiefer ausgerieben werden kann, hängt vom Material des Steuerrohrs ab.
bore-depth-close = { bore-is-deep }: zu knapp für eine Aussage (Wahrscheinlichkeit, dass es reicht: { $chance }).
bore-depth-not-met = { bore-is-deep }, und { $why ->
    [carbon] Carbon wird nicht ausgerieben.
   *[most] mehr als { $most } lassen sich nicht ausreiben.
}

press-fit-unknown = { $end ->
    [upper] Der Durchmesser der oberen Bohrung
   *[lower] Der Durchmesser der unteren Bohrung
} wurde nicht gemessen, und der der Schale ist nicht bekannt.
press-fit-likely = { $end ->
    [upper] Die obere Bohrung
   *[lower] Die untere Bohrung
} wurde nicht gemessen; { $chance } solcher Bohrungen halten die Schale. Miss sie vor dem Einpressen.
press-sizes = { $end ->
    [upper] Oben
   *[lower] Unten
} hat eine Schale von { $cup } in einer Bohrung von { $bore } ein Übermaß von { $interference }
press-fit-met = { press-sizes }: Sie hält, und das Rohr trägt es.
press-fit-ream = { press-sizes }: zu stramm oder nahe daran, die Bohrung muss ausgerieben werden.
press-fit-loose = { press-sizes }: zu lose. Eine Schale, die sich bewegen kann, ist gefährlich.
press-fit-tight = { press-sizes }: zu stramm, und dieses Steuerrohr lässt sich nicht ausreiben.
press-fit-close = { press-sizes }: Miss die Bohrung genauer.

throat-not-measured = { $end ->
    [upper] Die obere Engstelle
   *[lower] Die untere Engstelle
} wurde nicht gemessen; der gekippte Gabelschaft braucht { $needed }.
throat-not-stated = Das Kit nennt { $end ->
    [upper] keine obere Engstelle
   *[lower] keine untere Engstelle
}; sie folgt aus der Länge des Steuerrohrs, den beiden Durchmessern des Gabelschafts und dem Ende seines Konus.
throat-of = { $end ->
    [upper] Die obere Engstelle
   *[lower] Die untere Engstelle
} von { $diameter }
throat-met = { throat-of } lässt den gekippten Gabelschaft durch; er braucht { $needed }.
throat-close-open = { throat-of } liegt zu nahe an den { $needed }, die der gekippte Gabelschaft braucht; das Metall kann erweitert werden.
throat-open = { throat-of } ist { $short } enger als die { $needed }, die der gekippte Gabelschaft braucht; das Metall kann erweitert werden.
throat-material = { throat-of } ist vielleicht zu eng für die { $needed }, die der gekippte Gabelschaft braucht; ob sie erweitert werden kann, hängt vom Material des Steuerrohrs ab.
throat-close = { throat-of } liegt zu nahe an den { $needed }, die der gekippte Gabelschaft braucht (Wahrscheinlichkeit, dass es reicht: { $chance }).
throat-not-met = { throat-of } ist { $short } enger als die { $needed }, die der gekippte Gabelschaft braucht, und { $why ->
    [carbon] Carbon wird nicht erweitert.
   *[most] mehr als { $most } lassen sich nicht erweitern.
}
throat-room = Nach den Messwerten hat der Gabelschaft mindestens { $least } Luft, { $side ->
    [front] vorn
   *[rear] hinten
}, { $at } über der unteren Stirnfläche{ $counts ->
    [maker] ; es gilt die Angabe des Kit-Herstellers.
   *[readings] .
}

recess-not-measured = Wie tief das obere Lager unter der Stirnfläche sitzt, wurde nicht gemessen.
recess-met = Das obere Lager sitzt { $depth } unter der Stirnfläche; das Kit erlaubt { $most }.
recess-close = Das obere Lager sitzt { $depth } unter der Stirnfläche, zu nahe an den erlaubten { $most } für eine Aussage.
recess-not-met = Das obere Lager sitzt { $depth } unter der Stirnfläche, tiefer als die { $most }, die das Kit überbrückt.

seat-the = { $end ->
    [upper] Der obere Lagersitz
   *[lower] Der untere Lagersitz
}
seat-same-bore = { seat-the } ist die Bohrung für { $found } ({ $chance }), und { $wanted } passt in dieselbe Bohrung.
seat-met = { seat-the } ist { $wanted } ({ $chance }), wie das Kit es braucht.
seat-kind = { $kind ->
    [drop_in] ein integriertes Lager
   *[cup] eine eingepresste Schale
}
seat-found = { seat-the } ist { $found }, { seat-kind } ({ $chance })
seat-found-none = { seat-the } hat kein genormtes Maß
seat-needed = das Kit braucht { $wanted }, { seat-kind }.
seat-trap = Sein Lager misst { $reading }; ein Lager für { $wanted } misst { $nominal }.
seat-open = Das Kit braucht { $wanted }; { $end ->
    [upper] der obere Lagersitz
   *[lower] der untere Lagersitz
} ist vielleicht { $candidates }.
seat-candidate-none = kein genormtes Maß ({ $chance })

length-not-measured = Das Kit ist für Steuerrohre von { $range }; dieses wurde nicht gemessen.
length-met = Das Steuerrohr von { $length } liegt im Bereich des Kits von { $range }, { $spare } vom näheren Ende.
length-close = Das Steuerrohr von { $length } liegt zu nahe an einem Ende des Bereichs des Kits von { $range } (Wahrscheinlichkeit, dass es darin liegt: { $chance }).
length-not-met = { $way ->
    [longer] Das Steuerrohr von { $length } ist { $by } länger, als die { $range } des Kits erlauben.
   *[shorter] Das Steuerrohr von { $length } ist { $by } kürzer, als die { $range } des Kits erlauben.
}

steerer-unknown = Ob der Gabelschaft lang genug ist, ist nicht bekannt.
steerer-measure-either = Miss mit eingebauter Gabel: { $in }; oder mit ausgebauter Gabel: { $out }.
steerer-measure = Zu messen: { $in }.
steerer-long-enough = Der Gabelschaft ist lang genug, { $left } bleiben für Spacer.
steerer-close = Der Gabelschaft ist selbst ohne Spacer fast zu kurz: { $left } bleiben (Wahrscheinlichkeit, dass es reicht: { $chance }).
steerer-too-short = Der Gabelschaft ist selbst ohne Spacer { $short } zu kurz, und ein Gabelschaft lässt sich nicht verlängern.
steerer-lower-stem = Ein Vorbau mit höchstens { $needed } Klemmhöhe statt { $clamp } würde es ausgleichen; die Hersteller von Vorbau und Gabel sagen, ob er auf diesen Gabelschaft darf.
steerer-wanted = { $upper } am oberen Lager und { $lower } an der Gabelkrone
steerer-size-not-measured = Das Kit braucht einen Gabelschaft von { steerer-wanted }; dieser wurde nicht gemessen.
steerer-found-upper = { $found } am oberen Lager, an der Gabelkrone nicht gemessen
steerer-found-lower = { $found } an der Gabelkrone, am oberen Lager nicht gemessen
steerer-found-both = { $first } und { $second }
steerer-size-met = Der Gabelschaft mit { $found } passt zum Kit: { steerer-wanted }.
steerer-size-not-met = Das Kit braucht einen Gabelschaft von { steerer-wanted }; dieser hat { $found }.

hoses-none = Durch den Steuersatz laufen keine Leitungen.
hoses-room = Das Kit lässt Platz für Leitungen durch den Steuersatz.
hoses-in-the-way = Durch den Steuersatz laufen Leitungen, und das Kit hat keinen Platz dafür.
hoses-unknown = Sieh nach, ob Leitungen durch den Steuersatz laufen: Das Kit hat keinen Platz dafür.
stop-none = Das Rad hat keinen Lenkanschlag.
stop-works = Ein Lenkanschlag wirkt auch mit dem Kit.
stop-lost = Das Rad hat einen Lenkanschlag, der mit dem Kit nicht mehr wirkt.
stop-unknown = Sieh nach, ob es einen Lenkanschlag gibt: Mit dem Kit wirkt er nicht mehr.

down-tube-unknown = Ob der Reifen mit steilerem Winkel am Unterrohr vorbeikommt, ist nicht bekannt: Miss den Abstand bei ganz eingedrückter Gabel und die Einbauhöhe der Gabel.
down-tube-met = Bei ganz eingedrückter Gabel bleiben { $gap } zwischen Reifen und Unterrohr; { $needed } genügen.
down-tube-close = Bei ganz eingedrückter Gabel blieben { $gap } zwischen Reifen und Unterrohr: zu nahe an den nötigen { $needed } für eine Aussage.
down-tube-not-met = Bei ganz eingedrückter Gabel blieben nur { $gap } zwischen Reifen und Unterrohr, { $short } weniger als nötig.

bearing-mismatch-item = { $end ->
    [upper] das obere misst { $own } mm, und das Kit nimmt { $part } mm
   *[lower] das untere misst { $own } mm, und das Kit nimmt { $part } mm
}
bearing-mismatch = Die Lager des Rads kommen nicht wieder hinein: { $what }; bestelle { $upper } (oben) und { $lower } (unten) mit.
bearing-mismatch-none = Die Lager des Rads kommen nicht wieder hinein: { $what }; der Katalog hat keine, die in beide Lagersitze passen.
bearing-good = Die Lager des Rads sind gut und kommen wieder hinein.
bearing-rough = Das Kit übernimmt die Lager des Rads, und die laufen rau: Bestelle { $upper } (oben) und { $lower } (unten) mit.
bearing-rough-none = Das Kit übernimmt die Lager des Rads, und die laufen rau; der Katalog hat keine, die in beide Lagersitze passen.
bearing-unknown = Das Kit übernimmt die Lager des Rads; sollten sie rau laufen, hat der Katalog { $upper } (oben) und { $lower } (unten).
bearing-unknown-none = Das Kit übernimmt die Lager des Rads: Dreh die Gabel im Montageständer und fühle, ob sie rau laufen.

## Arbeiten

work-check-bore = { $way ->
    [maker] Wenn die alte Schale so herausgekommen ist, wie der Hersteller des Rahmens es erlaubt
   *[plain] Wenn die alte Schale heraus ist
}, miss { $end ->
    [upper] die obere Bohrung
   *[lower] die untere Bohrung
} in zwei Richtungen. Von { $low } bis { $high }: weiter. Sonst halt: Press nichts ein, trag das Maß ein und prüfe neu.
work-open-close = Miss den Durchmesser der { $end ->
    [upper] oberen
   *[lower] unteren
} Engstelle neu: { $from } liegt zu nahe an den nötigen { $to }. Ist er kleiner, erweitere ihn auf { $to }.
work-deepen-close = Miss die Tiefe der { $end ->
    [upper] oberen
   *[lower] unteren
} Bohrung neu: { $from } liegt zu nahe an den nötigen { $to }. Ist sie kleiner, reib sie auf { $to } aus.
work-open-maker = Der Hersteller des Kits verlangt { $to } an der { $end ->
    [upper] oberen
   *[lower] unteren
} Engstelle, und sie hat { $from }, auch wenn der Gabelschaft nach den Messwerten vorbeikommt. Steck erst alles trocken zusammen, dreh die Gabel von Anschlag zu Anschlag und frag den Hersteller des Kits, bevor etwas abgetragen wird. Wenn es sein muss: Erweitere sie auf { $to }, oder nimm { $side ->
    [front] vorn
   *[rear] hinten
} { $remove } weg.
work-open = Erweitere die { $end ->
    [upper] obere
   *[lower] untere
} Engstelle von { $from } auf { $to }; es genügt, { $side ->
    [front] vorn
   *[rear] hinten
} { $remove } wegzunehmen.
work-deepen = Reib die { $end ->
    [upper] obere
   *[lower] untere
} Bohrung tiefer aus, von { $from } auf { $to } unter der Stirnfläche.
work-widen = Reib die { $end ->
    [upper] obere
   *[lower] untere
} Bohrung von { $from } auf { $to } aus{ $depth ->
    [none] {""}
   *[other] , bis { $depth } unter die Stirnfläche
}, sodass die Schale von { $cup } mit { $interference } Übermaß hineingeht.
work-reamer = Das Werkzeug ist die Reibahle für { $code } ({ $low } bis { $high }).
work-face = Fräse danach das Rohrende plan.
work-replace = Setz neue Lager ein: Die des Rads laufen rau, dieses Kit übernimmt sie, und der Katalog hat keine passenden. Achte auf gleichen Außendurchmesser, Innendurchmesser, gleiche Höhe und gleiche Kontaktwinkel.

## Wie weit das Ergebnis gilt

holds-outside = { $what } { $now }: „{ $verdict }“ gilt von { $from } bis { $to }; außerhalb: { $below }.
holds-between = { $what } { $now }: „{ $verdict }“ gilt von { $from } bis { $to }; darunter: { $below }, darüber: { $above }.
holds-from = { $what } { $now }: „{ $verdict }“ gilt ab { $from }; darunter: { $below }.
holds-to = { $what } { $now }: „{ $verdict }“ gilt bis { $to }; darüber: { $above }.

## Messwerte

reading-row = { $what } (Zeile { $row })
reading-left-out = Weggelassen, weil Werkzeug oder Einheit es nicht messen kann: { $rows }.
reading-lower-stack-tall = Eine untere Bauhöhe von { $stack } mm ist mehr, als ein integrierter Steuersatz hat ({ $seat }: in der Regel höchstens { $most }). Miss neu, von der unteren Stirnfläche des Steuerrohrs bis zum Gabelkonussitz.
target-usual-values = Der Lenkwinkel mit Kit ist nur als Bereich bekannt, weil übliche Werte für nicht Gemessenes stehen: { $what }. Miss das, um ihn genau zu kennen.
unit-word = { $unit ->
    [deg] Grad
   *[mm] mm
}
reading-contradict-item = { $digits } { unit-word } (Zeile { $row }, { $tool })
reading-contradict = Messwerte widersprechen sich ({ $what }): { $rows }. Miss neu und streiche den falschen.
reading-sheet-contradicts = Die Maße der Seitenansicht widersprechen sich (Wahrscheinlichkeit dafür allein durch Messfehler: { $chance }), und kein einzelnes erklärt es.
reading-wrong = { $what } von { $stated } { unit-word } widerspricht den anderen Maßen der Seitenansicht; nach diesen wären es { $others } { unit-word }. Der Wert bleibt hier weg; miss neu.
reading-wrong-alone = { $what } von { $stated } { unit-word } widerspricht den anderen Maßen der Seitenansicht. Der Wert bleibt hier weg; miss neu.
reading-one-of-these = Eines dieser Maße widerspricht den anderen, und es lässt sich nicht sagen, welches: { $what }. Miss das einfachste davon neu.

## Beim Zusammenbauen

note-stands-higher = Mit den jetzigen Spacern steht das Ende des Gabelschafts { $higher } höher als jetzt: Leg so viel an Spacern über den Vorbau, oder lass ihn kürzen.
note-leave-spacers-out = Das Kit baut höher als der jetzige Steuersatz: Lass { $less } Spacer weg; { $tallest } passen noch.
note-carbon-spacers = { $has } Spacer unter dem Vorbau bei einem Gabelschaft aus Carbon; üblich sind höchstens etwa { $limit }, und die Angabe des Gabelherstellers geht vor.
note-steerer-disagrees = Die direkt gemessene Länge des Gabelschafts und die aus den Teilen darauf stimmen nicht überein: Miss neu.

## Vorhergesagt und gemessen

compared-angle = { $angle }° ± { $spread }°
compared = Gemessen mit Kit: { $installed }; vorhergesagt: { $predicted }.
compared-agree = Das stimmt überein: { $apart }° Unterschied, weniger als die beiden Messwerte offen lassen.
compared-apart = { $way ->
    [slacker] Das stimmt nicht überein: Das Rad ist { $apart }° flacher als vorhergesagt, das { $ratio }-fache der Unsicherheit des Unterschieds.
   *[steeper] Das stimmt nicht überein: Das Rad ist { $apart }° steiler als vorhergesagt, das { $ratio }-fache der Unsicherheit des Unterschieds.
}
compared-wrong-way = Der Winkel hat sich zur anderen Seite bewegt: Vielleicht sind beide Hälften um eine halbe Drehung verdreht, sodass das Kit steiler statt flacher macht oder umgekehrt. Fahr nicht, bevor die Markierungen geprüft sind.
compared-too-little = Der Winkel hat sich weniger bewegt als gedacht: Die Hälften stehen vielleicht nicht in der Rahmenmitte oder nicht zueinander, eine ist verdreht oder sitzt nicht ganz, oder eine höhere untere Bauhöhe, eine andere Gabel oder ein größerer Vorderreifen kam dazu. Prüf die Markierungen, dann miss auf ebenem Boden neu.
compared-too-much = Der Winkel hat sich mehr bewegt als gedacht: Untere Bauhöhe, Gabel oder Vorderreifen sind vielleicht kleiner als vorher, ein Reifen ist weich, oder der Boden ist nicht eben. Such danach, dann miss neu.
compared-unknown = Die Hälften sind vielleicht verdreht oder nicht ausgerichtet, andere Spacer oder ein anderer Reifen kamen dazu, oder der Boden ist nicht eben. Prüf die Markierungen und miss auf ebenem Boden neu, bevor du einem der Werte traust.
