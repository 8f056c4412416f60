# Fotos, Markieren und Neigungsmesser auf Deutsch.

## Fotos

measure-by-photo = Auf einem Foto messen
measure-by-level = Aus einer Messung mit dem Neigungsmesser
photos-take = Foto aufnehmen
photos-choose = Fotos wählen
photos-send = Hinzufügen
photos-how = Nimm es von der Seite auf, rechtwinklig zum Rad, aus drei Metern oder mehr: beide Räder ganz, das Vorderrad gerade, das Licht hinter dir.
photos-drop = Du kannst Fotos auch hierher ziehen oder eins einfügen.
photos-private = Behalten wird eine Kopie: aufrecht, ohne den Ort der Aufnahme. Deine Datei bleibt, wo sie ist.
photos-none = Von diesem Rad gibt es noch kein Foto.
photos-none-chosen = Es ist kein Foto gewählt. Wähl zuerst eins.
photos-name = Foto { $number }
photos-alt = Foto { $number } von { $name }
photos-marks-begun = Markieren begonnen
photos-unmarked = Noch nicht markiert
photos-measured = { $what } { $value }
photos-measured-other = Gemessen, ohne Lenkwinkel
photos-file-missing = Die Bilddatei fehlt oder ist beschädigt. Füg das Foto noch einmal hinzu.
photos-adding = { $name }: wird hinzugefügt
photos-added = { $name } ist hinzugefügt, aufrecht, der Ort entfernt.
photos-known = { $name } ist schon da.
photos-stop = Abbrechen
photos-stopped = { $name } wurde abgebrochen. Davon ist nichts behalten.
photos-cut-off = { $name } ist nicht angekommen. Läuft das Programm noch? Wähl es noch einmal.
photos-compare = Vorher und nachher
photos-facts = { $width } × { $height } Pixel, aufrecht, der Ort entfernt
photos-facts-taken = { $width } × { $height } Pixel, aufgenommen { $at }, aufrecht, der Ort entfernt
photos-remove = Dieses Foto entfernen
photos-remove-note = Seine Messwerte bleiben. Rückgängig holt es zurück.
done-photo-added = Das Foto ist hinzugefügt, aufrecht, der Ort entfernt.
done-photo-known = Genau dieses Foto ist schon da.
done-photos-added = { $count ->
    [one] 1 Foto ist hinzugefügt, aufrecht, der Ort entfernt.
   *[other] { $count } Fotos sind hinzugefügt, aufrecht, der Ort entfernt.
}
done-photo-removed = Das Foto ist entfernt. Seine Messwerte bleiben.
done-photo-read = { $count ->
    [one] 1 Messwert dieses Fotos ist eingetragen.
   *[other] { $count } Messwerte dieses Fotos sind eingetragen.
}
photo-refused-file = { $name }: { $why }
photo-not-a-photo = Das ist kein Foto, das hier gelesen wird. Wähl ein JPEG, PNG oder WebP.
photo-heic = HEIC-Fotos werden hier nicht gelesen. Exportier es als JPEG, oder stell die Kamera auf JPEG.
photo-unsupported = Dieses { $format } wird nicht gelesen: { $what }. Exportier es als gewöhnliches JPEG.
photo-cut-short = Dieses { $format } ist abgeschnitten. Kopier es noch einmal von dort, wo es herkam.
photo-damaged = Dieses { $format } ist beschädigt. Nimm eine andere Kopie davon.
photo-too-many-bytes = Die Datei hat { $bytes } MB; angenommen werden höchstens { $limit } MB. Exportier sie kleiner.
photo-too-large = Das Bild hat { $width } × { $height } Pixel: Das ist zu groß. Exportier es kleiner.
photo-too-much-work = Diese Datei zu lesen dauert zu lange oder braucht zu viel Speicher. Exportier sie als gewöhnliches JPEG.
photo-not-written = Die Kopie konnte nicht geschrieben werden. Versuch es noch einmal.

## Markieren

mark-needs-script = Zum Markieren braucht es ein Skript, das dieser Browser nicht ausführt.
mark-picture = Bild zum Markieren. Pfeiltasten bewegen das Kreuz, mit Umschalt fein, Enter setzt eine Marke, Plus und Minus zoomen, die Rücktaste nimmt die letzte Marke zurück.
mark-undo = Letzte Marke zurücknehmen
mark-zoom-in = Vergrößern
mark-zoom-out = Verkleinern
mark-zoom-fit = Ganzes Bild
mark-set = Marke am Kreuz setzen
mark-nudge = Marke verschieben
mark-nudge-left = Marke nach links
mark-nudge-right = Marke nach rechts
mark-nudge-up = Marke nach oben
mark-nudge-down = Marke nach unten
mark-lost = Das hat das Programm nicht erreicht. Läuft es noch? Die Marken davor sind behalten.
mark-stage = Schritt { $step } von { $steps }
mark-tap-count = { $left ->
    [one] Noch 1 Marke.
   *[other] Noch { $left } Marken.
}
mark-wheels = Sind das die beiden Räder?
mark-wheels-detail = Die Umrisse sollen auf den Außenkanten beider Reifen liegen.
mark-wheels-yes = Ja, das sind die Räder
mark-wheels-no = Nein, ich tippe sie selbst an
mark-left-tyre = Tipp den Reifen des linken Rads an
mark-right-tyre = Tipp den Reifen des rechten Rads an
mark-tyre-detail = An seiner Außenkante, an { $count } Stellen rundum.
mark-fork-leg = Tipp das Gabelbein zweimal an
mark-fork-leg-detail = Oben und unten am nahen Bein, so weit auseinander, wie es gerade ist.
mark-head-tube-top = Tipp das obere Ende des Steuerrohrs an
mark-head-tube-top-detail = Die Mitte des oberen Endes, ohne die Lagerabdeckung.
mark-head-tube-bottom = Tipp das untere Ende des Steuerrohrs an
mark-head-tube-bottom-detail = Die Mitte des unteren Endes, wo das untere Lager beginnt.
mark-crown = Tipp den Sitz des Gabelkonus an
mark-crown-detail = Wo die Gabelkrone auf das untere Lager trifft, in der Mitte.
mark-bottom-bracket = Tipp das Tretlager an
mark-bottom-bracket-detail = Die Mitte des Kurbelendes.
mark-seat-tube = Tipp das Sitzrohr zweimal an
mark-seat-tube-detail = Oben und unten in seiner Mitte, so weit auseinander, wie es gerade ist.
mark-more = Mehr auf diesem Foto markieren
mark-more-head-tube-top = Oberes Ende des Steuerrohrs
mark-more-head-tube-bottom = Unteres Ende des Steuerrohrs
mark-more-crown = Sitz des Gabelkonus
mark-more-bottom-bracket = Tretlager
mark-more-seat-tube = Sitzrohr
mark-not-this = Das weglassen
mark-again = Noch einmal antippen
mark-again-left-tyre = Linken Reifen noch einmal antippen
mark-again-right-tyre = Rechten Reifen noch einmal antippen
mark-again-fork-leg = Gabelbein noch einmal antippen
mark-again-seat-tube = Sitzrohr noch einmal antippen
mark-by-hand-tyre = Von Hand markieren, an sechs Stellen
mark-by-hand-line = Meine zwei Marken so nehmen
mark-begin = Neu beginnen
mark-drawn = Was verstanden wurde, ist über das Foto gezeichnet
mark-refused = Das ergibt keinen Messwert
mark-refused-left-tyre = Der linke Reifen ist nicht zu finden
mark-refused-right-tyre = Der rechte Reifen ist nicht zu finden
mark-refused-fork-leg = Das Gabelbein ist nicht zu finden
mark-refused-seat-tube = Das Sitzrohr ist nicht zu finden
mark-instead = Tipp stattdessen eine dieser Linien an
mark-instead-front-edge = { $number }: beide Enden der Vorderkante des nahen Beins
mark-instead-lower-leg = { $number }: das Tauchrohr, über der Achse und unter dem Standrohr
mark-instead-head-tube = { $number }: beide Enden des Steuerrohrs
mark-read = Aus diesem Foto
mark-write = Eintragen
mark-write-detail = { $count ->
    [one] 1 Messwert, mit dem Werkzeug Foto
   *[other] { $count } Messwerte, mit dem Werkzeug Foto
}
mark-written = Diese Messwerte sind eingetragen.
mark-nothing-sure = Die Marken ergeben keinen Wert, der sicher genug zum Eintragen ist. Markier mehr, oder nimm ein anderes Foto auf.
snap-too-few-taps = Es sind { $taps } Marken; nötig sind { $needed }.
snap-no-shape = Die Marken liegen zu nah beieinander oder auf einer Linie. Tipp Stellen an, die weit auseinander liegen.
snap-outside = Die Marken liegen außerhalb des Bilds. Tipp ins Bild.
snap-too-small = Es ist { $across } Pixel breit: zu klein. Geh näher heran, oder nimm ein größeres Bild.
snap-no-edge = Bei den Marken ist keine Kante. Vergrößere und tipp näher an die Kante; wo alles unscharf ist, nimm das Foto noch einmal auf.
snap-too-little = Seine Kante ist nur zu { $percent } % zu sehen. Nimm das Foto vor einem ruhigen Hintergrund auf, oder markier von Hand.
snap-two-alike = Zwei Kanten, { $apart } Pixel auseinander, sind gleich wahrscheinlich. Tipp noch einmal, näher an die Kante, die du meinst.
snap-doubtful = Die gefundene Kante ist nur zu { $percent } % die, die du meinst. Tipp noch einmal, näher an sie heran.
snap-too-blurred = Die Kante ist { $width } Pixel breit: zu unscharf. Halt die Kamera still, stell auf das Rad scharf und nimm das Foto noch einmal auf.
refused-marks = Es fehlen Marken, oder welche liegen außerhalb des Bilds. Beginn neu.
refused-no-ellipse = Die Marken auf dem { $wheel ->
    [front] vorderen
   *[rear] hinteren
} Reifen liegen auf keiner Ellipse. Tipp seine Außenkante an sechs Stellen an, rundum.
refused-half-wheel = Die Marken lassen { $degrees }° des { $wheel ->
    [front] vorderen
   *[rear] hinteren
} Reifens frei. Tipp rundum auf seine Außenkante.
refused-cut-off = Der Bildrand schneidet das { $wheel ->
    [front] Vorderrad
   *[rear] Hinterrad
} ab. Nimm das Foto noch einmal auf, mit beiden Rädern ganz und etwas Platz darum.
refused-one-wheel = Beide Reifen sind auf einem Rad markiert. Markier jeden auf seinem.
refused-swapped = Was am Steuerrohr markiert ist, liegt näher am Hinterrad. Sieh dir Gabelbein und Steuerrohr noch einmal an.
refused-turned = Das Vorderrad ist um etwa { $degrees }° eingeschlagen. Stell es gerade und nimm das Foto noch einmal auf.
refused-disagree = Die beiden Reifen sind keine Kreise der eingetragenen Größen in einer Ebene. Sieh dir beide Umrisse und die Reifengrößen an.
refused-mark-off = Eine Marke liegt etwa { $pixels } Pixel daneben: { $which }. Setz sie noch einmal.
refused-too-close = Die Kamera stand { $metres } m vom Rad: zu nah. Nimm das Foto aus drei Metern oder mehr auf.
refused-too-oblique = Die Kamera sah { $degrees }° schräg. Nimm das Foto von der Seite des Rads auf.
refused-unexplained = Keine Kamera und kein Rad erklären die Marken. Sieh dir jede noch einmal an, oder nimm ein anderes Foto auf.
doubt-mirrored = Das Bild scheint gespiegelt zu sein; die Zahlen sind dieselben.
doubt-diameter-assumed = Der Durchmesser des { $wheel ->
    [front] vorderen
   *[rear] hinteren
} Reifens ist nicht gemessen: Ein üblicher ist angenommen. Miss ihn, um sicherer zu sein.
doubt-offset-assumed = Der Gabelvorlauf ist nicht gemessen: Ein üblicher ist angenommen. Miss ihn, um sicherer zu sein.
doubt-focal-found = Die Datei nennt keine Brennweite: Sie ist aus den Rädern bestimmt.
doubt-oblique = Die Kamera sah { $degrees }° schräg; bis 30° ist gut.
doubt-scatter = Die Marken liegen { $factor }-mal so weit daneben wie sie sollten, darum ist jede Zahl um so viel unsicherer.
doubt-mark-off = Eine Marke fällt heraus: { $which }. Sieh sie dir noch einmal an.
doubt-not-told = Die Marken sagen nichts über: { $what }.

## Vorher und nachher

compare-title = Vorher und nachher
compare-before = Vorher
compare-after = Nachher
compare-change = Änderung
compare-show = Vergleichen
compare-needs-two = Miss zwei Fotos dieses Rads, eins ohne und eins mit dem Kit. Dann zeigt diese Seite die Änderung.
compare-refused = { $name }: { $why }
compare-same-camera = Beide Fotos gelten als mit einer Kamera bei einem Zoom aufgenommen, darum hebt sich auf, was in beiden falsch ist.
compare-other-camera = Die Fotos gelten als mit zwei Kameras oder Zooms aufgenommen.
compare-none = Die beiden Fotos haben keine gemeinsame Zahl. Markier auf beiden dieselben Teile.
compare-overlay = Beide Fotos gerade von der Seite, am Hinterrad übereinandergelegt
compare-blend = Wie viel vom Foto nachher
compare-side = Beide Fotos gerade von der Seite, in einem Maßstab
compare-other-side = Die Fotos zeigen das Rad von zwei Seiten, darum liegen sie nicht übereinander.

## Neigungsmesser

level-title = Neigungsmesser
level-how = Zeichne mit einer App auf, die den Beschleunigungssensor mitschreibt: die lange Kante des Handys am Gabelbein, dann Ende für Ende gedreht, dann mit dem Rad umgedreht auf derselben Stelle. Gib die Messreihe hier als Tabelle.
level-columns = Die Spalten heißen reading, bike, pose, time_s, x, y, z: eine Zeile je Messpunkt, m/s².
level-what = Welcher Winkel
level-before = Die Tabelle der Messung
level-after = Die Tabelle einer zweiten Messung, mit dem Kit (kann fehlen)
level-phone = Beide Messungen sind mit einem Handy gemacht
level-show = Winkel zeigen
level-change = Änderung
level-first = Erste Messung
level-second = Zweite Messung
level-write = { $value } eintragen
level-no-table = Wähl zuerst die Tabelle einer Messung.
level-slope = Der Boden ist um { $degrees }° geneigt.
level-not-turned-round = Das Rad wurde nur in einer Richtung gemessen, darum steckt die Neigung des Bodens im Winkel. Dreh es auf derselben Stelle um und miss noch einmal.
level-phone-not-turned = Das Handy lag nur in einer Lage an, darum steckt sein eigener Fehler im Winkel. Dreh es Ende für Ende, und den Bildschirm auf die andere Seite.
level-disagree = Die Messungen stimmen nicht überein; Nummer { $reading } passt am schlechtesten. Die Unsicherheit ist erweitert. Miss diese noch einmal.
level-no-reading = Es gibt keine Messung mit der Kante des Handys am Rad (pose along).
level-not-along = In Messung { $reading } steht die Kante des Handys auf { $degrees }°; erwartet werden 40° bis 88°. Leg die lange Kante am Bein oder Rohr an.
level-leaning = Das Rad neigt sich um { $degrees }° zur Seite. Halt es aufrecht, innerhalb von { $most }°.
level-no-answer = Die Messungen führen zu keinem Winkel. Zeichne noch einmal auf.
level-done = { $what } { $value } ist eingetragen.
