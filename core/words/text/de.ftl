# Die Texte der Bildschirme auf Deutsch. Die Sätze sind kurz, in der Du-Form und im Präsens.
# Größen kommen fertig geschrieben; Zahlen wählen zwischen Einzahl und Mehrzahl.

## Marken

mark-fits = Passt
mark-fits-after-work = Passt nach Arbeit
mark-jobs = { $jobs ->
    [one] Passt nach 1 Arbeit
   *[other] Passt nach { $jobs } Arbeiten
}
mark-measure-first = Erst messen
mark-does-not-fit = Passt nicht
mark-disagree = Messwerte widersprechen sich

## Liste der Räder

bikes-title = Räder
bikes-about = Welcher Winkelsteuersatz in welches Rad passt, welche Arbeit er braucht und was als Nächstes zu messen ist.
bikes-search = Name, Besitzer, Wort
bikes-all = Alle
bikes-add = Rad anlegen
bikes-none = Noch ist kein Rad da. Leg deins an, oder sieh dich zuerst bei den Rädern der Demo-Crew um.
bikes-none-found = Kein Rad hat diese Wörter. Versuch es mit weniger.
bikes-demo = Die Demo-Crew von Larch Hollow zeigen
bikes-demo-out = Die Räder der Demo-Crew herausnehmen
bikes-more = Weitere Räder
bikes-name = Name des Rads
bikes-owner = Besitzer, wenn du es nicht bist

## Wie es um ein Rad steht

standing-asked = { $sku }: { $state }
standing-no-kit = Der Katalog hat kein Kit zum Prüfen
standing-no-catalogue = Noch kein Katalog eines Herstellers
standing-fits = { $sku } passt
standing-fits-after-work = { $jobs ->
    [one] { $sku } passt nach 1 Arbeit
   *[other] { $sku } passt nach { $jobs } Arbeiten
}
standing-measure = Nicht entschieden: { $what }
standing-undecided = Nicht entschieden
standing-none-fits = Kein Kit passt: { $reason }
standing-fitted = { $sku } ist drin. Miss den Lenkwinkel neu
standing-fitted-as-predicted = { $sku } ist drin: { $angle }, wie vorhergesagt
standing-fitted-otherwise = { $sku } ist drin: { $angle }, nicht wie vorhergesagt
standing-disagree = { $what }: { $first } gegen { $second }

order-queued = wartet aufs Senden
order-underway = ist unterwegs zum Laden
order-in-doubt = ist vielleicht beim Laden; es wird noch einmal gefragt
order-held = wartet auf dich
order-rejected = konnte nicht gesendet werden
order-delivered = ist beim Laden
order-withdrawn = ist zurückgezogen
shop-waiting = der Laden hat es
shop-question = der Laden hat eine Frage
shop-accepted = der Laden liefert
shop-refused = der Laden kann nicht liefern
shop-paid = beim Laden bezahlt
shop-sent = unterwegs vom Laden
shop-collected = du hast es vom Laden
shop-cancelled = der Laden kann doch nicht liefern
shop-withdrawn = ist beim Laden zurückgezogen

## Was ein Kit verlangt, in wenigen Wörtern

requirement-upper-seat = oberer Lagersitz
requirement-lower-seat = unterer Lagersitz
requirement-head-tube-length = Länge des Steuerrohrs
requirement-upper-bore-depth = obere Bohrung zu flach
requirement-lower-bore-depth = untere Bohrung zu flach
requirement-upper-press-fit = Presssitz oben
requirement-lower-press-fit = Presssitz unten
requirement-upper-throat = obere Engstelle zu eng
requirement-lower-throat = untere Engstelle zu eng
requirement-steerer-length = Gabelschaft zu kurz
requirement-steerer-size = Maß des Gabelschafts
requirement-bearing-recess = Lager zu tief
requirement-hoses = Leitungen im Weg
requirement-steering-stop = Lenkanschlag
requirement-frame-material = Rahmen darf nicht bearbeitet werden
requirement-down-tube-clearance = Reifen zu nah am Unterrohr
requirement-bearing-condition = Lager sind verschlissen
requirement-pressing-consent = Einpressen nicht erlaubt

## Die Antwort

answer-undecided = Noch nicht entschieden
answer-open = Noch nichts zu sagen
answer-no-kit = Der Katalog hat kein Kit, das sich prüfen lässt.
answer-no-catalogue = Welche Kits es gibt, steht im Katalog eines Herstellers. Importiere einen, um zu sehen, welche passen.
answer-asked = { $sku } ist angefragt. Der Postausgang sagt, wo die Anfrage ist.
answer-fitted = Fahr damit, dann miss den Lenkwinkel mit dem Kit neu.
answer-disagree = Einer davon ist falsch. Lies ihn vor allem anderen neu; bis dahin kannst du nur eine Frage senden.
left-nothing = Nichts, was du messen kannst, entscheidet es.
left-fork-in = { $in ->
    [one] 1 Messung entscheidet, mit eingebauter Gabel.
   *[other] Bis zu { $in } Messungen entscheiden, mit eingebauter Gabel.
}
left-fork-out = { $out ->
    [one] 1 Messung entscheidet, mit ausgebauter Gabel.
   *[other] Bis zu { $out } Messungen entscheiden, mit ausgebauter Gabel, in einem Zug.
}
left-both = { $in ->
    [one] 1 Messung mit eingebauter Gabel,
   *[other] Bis zu { $in } Messungen mit eingebauter Gabel,
} { $out ->
    [one] dann 1 mit ausgebauter.
   *[other] dann { $out } mit ausgebauter, in einem Zug.
}
wanted-way = { $way ->
    [slacker] Flacher gewünscht, ohne Betrag.
   *[steeper] Steiler gewünscht, ohne Betrag.
}
wanted-change = { $degrees }° { $way } gewünscht.
wanted-angle = Lenkwinkel von { $angle }° gewünscht.
slacker = flacher
steeper = steiler
change = Am Boden { $degrees }° { $way }, von { $before }° auf { $after }°.
change-assumed = Am Boden etwa { $degrees }° { $way }; der Lenkwinkel ist noch nicht gemessen.
bike-wrong-if = Was würde das ändern?
bike-no-drawing = Der Schnitt erscheint, sobald die Länge des Steuerrohrs bekannt ist.
bike-no-drawing-catalogue = Der Schnitt mit Kit erscheint, sobald ein Katalog eines Herstellers da ist.
bike-no-drawing-none-fits = Es ist kein Kit gezeichnet, da keines passt.
bike-drawn-with = Gezeichnet mit { $sku }
bike-measurements = Messwerte

## Der nächste Schritt

next-catalogue = Importiere den Katalog eines Herstellers
next-catalogue-detail = Ein Katalog ist eine Datei des Kit-Herstellers
next-again = Miss neu: { $what }
next-again-detail = Zwei Messwerte widersprechen sich
next-doubt = Lies noch einmal ab: { $what }
next-doubt-detail = Mit dieser Messung passt kein Kit; eine falsche Ziffer genügt dafür
next-ride = Fahr damit, dann miss den Lenkwinkel
next-ride-detail = Genauso und auf derselben Stelle wie vorher
next-fitted = Ist { $sku } drin? Trag es ein
next-fitted-detail = Öffnet die Liste zum Abhaken vor der ersten Fahrt
next-ask = Frag den Laden nach { $sku }
next-ask-detail = Was mitgeht, wird zuerst gezeigt
next-measure = Miss: { $what }
next-look = Sieh nach: { $what }
next-look-again = Sieh bei ausgebauter Gabel noch einmal nach: { $what }
next-wanted = Was möchtest du?
next-wanted-detail = Flacher oder steiler, und wie viel. Unentschieden ist auch eine Antwort
next-outbox = Sieh in den Postausgang
next-outbox-detail = Wo die Anfrage ist, und wie du sie zurückziehst
next-measure-detail = { $kits ->
    [one] { $tool }, etwa { $minutes } min · 1 Kit wartet darauf
   *[other] { $tool }, etwa { $minutes } min · { $kits } Kits warten darauf
}
next-look-detail = { $kits ->
    [one] Etwa { $minutes } min · 1 Kit wartet darauf
   *[other] Etwa { $minutes } min · { $kits } Kits warten darauf
}

## Messen

not-measured = nicht gemessen
not-looked-at = nicht angesehen
not-known = nicht bekannt
measure-known = Bisher: { $value }
measure-value = Messwert
measure-unit = Einheit
measure-tool = Gemessen mit
measure-erase = Letzte Ziffer löschen
measure-write = Eintragen
measure-trap = Achtung
measure-look = Was siehst du?
look-fork-out = Die Gabel ist ausgebaut
written-down = { $what } { $value } ist eingetragen.
settled-nothing = { $left ->
    [0] Keine Antwort ändert sich.
    [one] Das entscheidet noch nichts; 1 Kit ist offen.
   *[other] Das entscheidet noch nichts; { $left } Kits sind offen.
}
settled-fit = { $fit ->
    [one] 1 Kit passt jetzt
   *[other] { $fit } Kits passen jetzt
}; { $left } offen.
settled-do-not-fit = { $not ->
    [one] 1 Kit fällt jetzt weg
   *[other] { $not } Kits fallen jetzt weg
}; { $left } offen.
settled-both = { $fit ->
    [one] 1 Kit passt jetzt,
   *[other] { $fit } Kits passen jetzt,
} { $not ->
    [one] 1 fällt weg
   *[other] { $not } fallen weg
}; { $left } offen.

unit-mm = mm
unit-cm = cm
unit-in = Zoll
tool-caliper = Messschieber
tool-bore-gauge = Innenmessgerät
tool-steel-rule = Stahlmaßstab
tool-tape = Maßband
tool-phone-level = Handy als Wasserwaage
tool-angle-finder = Winkelmesser
tool-maker-sheet = Angabe des Herstellers
tool-photo = Foto
tool-eye = nach Augenmaß

seen-drop-in = Integriertes Lager
seen-drop-in-detail = Das Lager liegt im Rahmen selbst. Du hebst es von Hand heraus.
seen-thin-lip = Eingepresste Schale, dünner Rand
seen-thin-lip-detail = Ein Ring von ein bis zwei Millimetern steht außen am Steuerrohr; das Lager ist innen.
seen-external-cup = Außenliegende Schale
seen-external-cup-detail = Eine Schale von einem Zentimeter oder mehr steht außen am Steuerrohr.
seen-not-seen = Ich kann es nicht sagen
seen-not-seen-detail = Es ist verdeckt, oder du bist nicht sicher.
seen-aluminium = Aluminium
seen-carbon = Carbon
seen-steel = Stahl
seen-titanium = Titan
seen-not-known = Ich weiß es nicht
seen-yes = Ja
seen-no = Nein
seen-good = Sie laufen gut
seen-rough = Rau oder lose

group-head-tube = Steuerrohr und Rahmen
group-upper = Oberes Ende
group-lower = Unteres Ende
group-steerer = Gabelschaft, Vorbau und Spacer
group-bike = Das Rad von der Seite

question-asked-already = { $sku } ist schon angefragt ({ $when }). Noch eins anfragen?
question-ask-again = Ja, noch eins anfragen
question-digit = { $value } { $unit } lässt die nächste Ziffer offen. Ergänze sie, oder behalte es als ± { $plus_minus } { $unit }.
question-keep = Ja, ich lese { $value } { $unit }

## Kits

kits-title = Kits
kits-catalogue = { $maker }, Katalog { $number }
kits-folded = { $count ->
    [one] 1 passt nicht
   *[other] { $count } passen nicht
}
kits-wanted = Was möchtest du?
kits-wanted-change = Grad am Boden
kits-wanted-angle = oder ein Lenkwinkel von
kits-wanted-set = Übernehmen
kit-requirements = Was es verlangt
kit-angles = Das Kit ist für { $nominal }° gemacht. In diesem Steuerrohr neigt es den Gabelschaft um { $tilt }°. Die Front des Rads bewegt sich mit und das Rad kippt, darum ändert sich der Lenkwinkel am Boden um { $ground }°.
kit-work = Arbeit vor dem Einbau
kit-parts = Dazu bestellen
kit-notes = Beim Zusammenbauen
kit-cautions = Vorsicht
kit-fitted = Eintragen, dass es drin ist
kit-fitted-despite = Warum ist es trotzdem drin?
kit-removed = Eintragen, dass es wieder heraus ist
kit-is-in = Dieses Kit ist im Rad.
stock = { $stock ->
    [0] nicht vorrätig
   *[other] { $stock } vorrätig
}
job-open = { $place } erweitern.
job-open-sized = { $place } von { $from } auf { $to } mm erweitern.
job-deepen = { $place } tiefer ausreiben.
job-deepen-sized = { $place } von { $from } auf { $to } mm Tiefe ausreiben.
job-widen = { $place } weiter ausreiben.
job-widen-sized = { $place } von { $from } auf { $to } mm ausreiben.
job-replace = neue { $place } einsetzen.
job-replace-sized = neue { $place } einsetzen.
job-check-bore = { $place } messen, bevor etwas eingepresst wird.
job-check-bore-sized = alte Schale heraus, { $place } messen: mit { $from } bis { $to } mm geht es weiter.
place-upper-throat = obere Engstelle
place-lower-throat = untere Engstelle
place-upper-bore = obere Bohrung
place-lower-bore = untere Bohrung
place-bearings = Lager
caution-cutting = Was abgetragen ist, kommt nicht zurück: Frag zuerst den Hersteller des Rahmens.
state-met = Erfüllt
state-met-after-work = Erfüllt nach Arbeit
state-not-known = Offen
state-not-met = Nicht erfüllt

tick-title = Vor der ersten Fahrt
tick-torque = Jede Schraube hat das Drehmoment, das ihr Hersteller nennt.
tick-play = Der Steuersatz hat kein Spiel und dreht leicht.
tick-line = Beide Hälften sind zum Rahmen ausgerichtet.
tick-brakes = Leitungen und Züge spannen nicht, wenn du den Lenker drehst.
tick-mechanic = Bist du bei etwas unsicher, sieht zuerst eine Fachwerkstatt darauf.

## Den Laden fragen

kit-ask = Im Laden anfragen
kit-ask-about = Den Laden dazu fragen
kit-in-the-bike = Im Rad
ask-title-order = { $sku } bestellen
ask-title-question = Frage zu { $sku }
ask-only-question = Das Kit ist nicht entschieden oder passt nicht: Du kannst dazu fragen, nicht bestellen.
ask-goes-along = Was mitgeht, sonst nichts
ask-kit = Kit
ask-parts = Teile
ask-no-parts = keine: Was im Rad ist, kommt wieder hinein
ask-bike = Rad
ask-readings = { $count ->
    [one] 1 Messwert, Stand jetzt
   *[other] { $count } Messwerte, Stand jetzt
}
ask-verdict = Ergebnis
ask-price = Preis
ask-photos = Fotos
ask-no-photos = keine
ask-shop = Es geht an { $address }. Du zahlst beim Laden, nicht hier.
ask-no-shop = Es bleibt hier, bis du einen Laden nennst.
ask-name = Dein Name
ask-email = E-Mail
ask-phone = Telefon
ask-address = Anschrift
ask-note = Notiz für den Laden
ask-put = In den Postausgang legen
outbox-title = Postausgang
outbox-empty = Noch ist nichts angefragt.
outbox-number = Nummer { $number } beim Laden
outbox-withdraw = Zurückziehen
outbox-name-shop = Nenn den Laden
outbox-agree = Lies, wozu du zustimmst
outbox-contact = Jetzt beim Laden melden
order-withdrawing = ist zurückgezogen; der Laden erfährt es
done-asked = { $sku } liegt im Postausgang.
done-withdrawn = Es ist zurückgezogen.
done-shop = Anfragen gehen ab jetzt an diesen Laden.
done-shop-agree = Der Laden ist genannt. Nichts wird gesendet, bevor du zustimmst.
done-agreed = Zugestimmt. Was wartet, wird jetzt gesendet.
done-agreement-ended = Es wird nichts mehr gesendet, und der Laden wird nicht gefragt.
done-contacted = Der Laden wird gerade gefragt.

## Das Buch

book-title = Buch
book-catalogues = Kataloge der Hersteller
book-catalogue = { $kits ->
    [one] Nummer { $number } vom { $issued }, 1 Kit
   *[other] Nummer { $number } vom { $issued }, { $kits } Kits
}
book-shop = Der Laden
shop-address = Adresse des Ladens
shop-token = Das Token, das der Laden dir gab
shop-token-about = Es ist ein Geheimnis zwischen dir und dem Laden. Es wird nicht wieder angezeigt.
shop-set = Diesen Laden nehmen
shop-other = Ein anderer Laden
shop-consent = Ich stimme zu, dass Steerwright meine Anfragen an { $address } sendet. Mit jeder gehen: der Name und die Wege zu mir, die ich eingebe, meine Nachricht, die Fotos, die ich auswähle (kleine Kopien ohne Ort und Kameradaten), das Rad mit Name, Besitzer und Messungen, wie es in meinem Feldbuch steht, und was Steerwright für das Kit fand. Der Laden wird auch nach seinen Antworten und seinem Katalog gefragt. Sonst wird nichts gesendet, und niemandem sonst. Ich kann das jederzeit beenden und bei jeder Anfrage löschen, wer gefragt hat.
shop-agree = Ich stimme zu
shop-agreed = Zugestimmt am { $when }.
shop-end = Zustimmung beenden
book-import = Katalog importieren
book-import-button = Importieren
book-demo = Zum Umsehen ist der Katalog des erfundenen Herstellers Tarn & Tiller im Programm dabei.
book-demo-button = Den Demo-Katalog importieren
file-choose = Datei wählen
file-paste = Oder ihren Text einfügen
bikes-from-file = Aus einer Rad-Datei
bikes-add-file = Das Rad der Datei anlegen

## Lenkung

steering-title = Lenkung
steering-before = Wie es ist
steering-after = Danach
steering-change = Änderung
steering-no-drawing = Die Seitenansicht erscheint, sobald genug vom Rad gemessen ist.
steering-assumed = Angenommen wie üblich, bis du es misst: { $what }.
steering-show = Zeigen
steering-reset = Wie es ist
slider-tilt-label = Kippung
slider-tilt = { $degrees }° { $way }
slider-as-it-is = wie es ist
slider-mm = { $value } mm
slider-mm-as-it-is = { $value } mm, wie es ist
slider-less = { $label }: weniger
slider-more = { $label }: mehr
figure-missing = Dazu fehlt: { $needs }
figure-head-angle = Lenkwinkel
figure-seat-angle = Sitzrohrwinkel
figure-bottom-bracket-height = Höhe des Tretlagers
figure-reach = Reach
figure-stack = Stack
figure-wheelbase = Radstand
figure-front-centre = Tretlager zu Vorderachse
figure-trail = Nachlauf
figure-mechanical-trail = Mechanischer Nachlauf
figure-wheel-flop = Radkippung (Wheel Flop)

## Verlauf

record-log = Messwerte
record-checks = Aufgehobene Prüfungen
record-orders = Anfragen
record-notes = Notizen
record-empty = Für dieses Rad ist noch nichts eingetragen.
record-struck = Gestrichen: { $why }
record-strike = Streichen
record-why = Warum?
record-restore = Wieder zählen lassen
record-check = Prüfung mit { $sku }
record-check-none = Prüfung, kein Kit gewählt
record-fitted = im Rad

## Rad und Reiter

nav-outbox = Ausgang
nav-book = Buch
tab-bike = Rad
tab-kits = Kits
tab-steering = Lenkung
tab-photos = Fotos
tab-record = Verlauf
bike-edit = Name, Besitzer, Schlagwörter, Notizen
bike-name = Name
bike-owner = Besitzer
bike-tags = Schlagwörter, durch Kommas getrennt
bike-notes = Notizen
bike-save = Sichern
nav-back = Zurück zu den Rädern
page-changed = Das Buch wurde anderswo geändert. Zeig es, wie es jetzt ist
skip = Zum Inhalt
back = Zurück

## Was getan ist

done-added = { $name } ist angelegt.
done-changed = { $name } ist geändert.
done-demo = { $count } Räder der Demo-Crew sind da, mit dem Schlagwort Demo.
done-demo-out = { $count } Räder der Demo-Crew sind wieder heraus.
done-written = { $what } ist eingetragen.
done-seen = { $name }: eingetragen.
done-wanted = { $name }: Dein Wunsch ist eingetragen.
done-struck = Der Messwert ist gestrichen. Er bleibt im Verlauf.
done-restored = Der Messwert zählt wieder.
done-fitted = { $sku } ist drin. Miss nach der ersten Fahrt den Lenkwinkel neu.
done-removed = Das Kit ist wieder heraus.
done-undone = Rückgängig gemacht: { $what }.
undo = Rückgängig
undo-nothing = Es gibt nichts rückgängig zu machen.
undo-other = Seither wurde etwas anderes getan. Das Letzte ist: { $what }.

## Was schiefging

error-name = Ein Rad braucht einen Namen, etwa den auf dem Rahmen.
error-value = Tipp die Zahl ein, die du liest.
error-wanted = { $value } ist nicht möglich; erwartet werden { $low } bis { $high } Grad.
error-wanted-both = Wähl eines: Grad am Boden oder einen Lenkwinkel.
error-why = Schreib, warum, damit es versteht, wer den Verlauf liest.
error-form = Das Formular kam nicht ganz an. Geh zurück und sende es noch einmal.
error-title = Das ging nicht
error-not-there = Diese Seite gibt es nicht.
error-forbidden = Diese Seite öffnet sich nur mit der Adresse, die das Programm ausgibt, und diese Adresse gilt einmal. Starte das Programm neu, um eine neue zu bekommen.
