# Was das Feldbuch auf Deutsch sagt: Anfragen an einen Laden, Signaturen, was rückgängig gemacht wurde, und was es ablehnt.

## Warum eine Anfrage wartet

kit-state-goes-in = passt
kit-state-goes-in-after-work = passt nach Arbeit
kit-state-measure-first = ist nicht entschieden
kit-state-will-not-go = passt nicht
reason-verdict-changed = Nach Katalog Nummer { $number } gilt: Das Kit { $is } (vorher: { $was }). Sende die Anfrage trotzdem, ändere sie oder zieh sie zurück.
reason-readings-changed = Nach dem, was seither gemessen wurde, gilt: Das Kit { $is } (vorher: { $was }). { $order ->
    [possible] Sende die Anfrage trotzdem, ändere sie oder zieh sie zurück.
   *[question] Sende sie trotzdem, als Frage, ändere sie oder zieh sie zurück.
}
reason-price-changed = Nach Katalog Nummer { $number } kostet das Kit { $is } statt { $was }. Sende die Anfrage trotzdem oder zieh sie zurück.
reason-kit-gone = Katalog Nummer { $number } hat das Kit nicht mehr. Sende eine Frage, wähl ein anderes Kit oder zieh die Anfrage zurück.
reason-token = Der Laden kennt deinen Zugangscode nicht. Gib den ein, den er dir gegeben hat, und sende noch einmal.
reason-address = Was an der Adresse des Ladens antwortet, nimmt keine Anfragen an (Status { $status }). Berichtige die Adresse und sende noch einmal.
reason-invalid = Der Laden hat Fehler in der Anfrage gefunden.
reason-invalid-change = Ändere sie; sie geht dann als neue hinaus.
reason-kit-unknown = Der Laden verkauft dieses Kit nicht. Wähl ein anderes oder frag den Laden.
reason-too-large = Die Anfrage ist dem Laden zu groß. Kürze sie; sie geht dann als neue hinaus.
reason-photo-too-large = Ein Foto ist dem Laden zu groß. Lass es weg; die Anfrage geht dann als neue hinaus.
reason-key-reused = Der Laden hat unter dem Schlüssel dieser Anfrage eine andere. Frag ihn, welche er hat.
reason-not-at-shop = Der Laden hat die Anfrage nicht, um die es geht, oder hat gelöscht, wer gefragt hat. Sprich mit dem Laden.
reason-photo-refused = Der Laden nimmt ein Foto nicht an. Lass es weg; die Anfrage geht dann als neue hinaus.
reason-photo-lost = Die Datei eines Fotos fehlt oder lässt sich auf diesem Gerät nicht lesen. Die Anfrage geht weiter, sobald sie wieder da ist; oder füg das Foto neu hinzu, oder lass es weg.
reason-shop-gone = Die Adresse des Ladens, der diese Anfrage hat oder haben kann, wurde hier gelöscht oder ging verloren, deshalb lässt er sich nicht mehr fragen. Sag es dem Laden selbst.
reason-other = Der Laden hat sie abgelehnt (Status { $status }): { $detail }
reason-other-silent = Der Laden hat sie ohne Grund abgelehnt (Status { $status }).
verdict-change = Nach dem, was seither gemessen wurde, gilt: Das Kit { $is }; dem Laden wurde gesagt: { $was }. Sag es dem Laden.

fault-no-network = Es gab kein Netz.
fault-not-reached = Der Rechner des Ladens war nicht erreichbar.
fault-timeout = Es kam keine Antwort in der Zeit.
fault-tls = Es kam keine sichere Verbindung zum Laden zustande.
fault-connection-lost = Die Verbindung riss ab.
fault-interrupted = Das Programm endete, bevor eine Antwort kam.
fault-no-sense = Die Antwort war nicht die eines Ladens dieser Art (Status { $status }).
fault-busy = Der Laden bittet, später wiederzukommen, oder hat selbst eine Störung (Status { $status }).
fault-busy-detail = Der Laden kann es gerade nicht (Status { $status }): { $detail }
fault-photos = Fotos kamen nicht vollständig an; sie werden noch einmal gesendet.
fault-catalogue = Der Katalog des Ladens wurde nicht übernommen: { $detail }

## Kataloge

signature-verified = Signiert mit dem Schlüssel des Herstellers, den du hinterlegt hast.
signature-unsigned = Nicht signiert: Nichts zeigt, dass er unverändert vom Hersteller kommt.
signature-unsigned-though-pinned = Nicht signiert, obwohl du für diesen Hersteller einen Schlüssel hinterlegt hast: Frag ihn, bevor du dich darauf verlässt.
signature-unchecked = Signiert, aber du hast für diesen Hersteller keinen Schlüssel hinterlegt; die Signatur ist nicht geprüft.
signature-other-key = Mit einem anderen Schlüssel signiert als dem, den du für diesen Hersteller hinterlegt hast.
imported = { $new ->
    [new] Nummer { $number } von { $maker } ist importiert und gilt.
   *[known] Nummer { $number } von { $maker } war schon da und gilt.
}

## Was getan wurde, nach „Rückgängig:“

op-add-bike = Rad anlegen
op-edit-bike = Rad ändern
op-archive-bike = Rad ins Archiv legen
op-restore-bike = Rad aus dem Archiv holen
op-delete-bike = Rad löschen
op-add-measurement = Messwert eintragen
op-strike-out = Messwert streichen
op-bring-back = Messwert wieder zählen lassen
op-keep-check = Prüfung aufheben
op-fit-kit = eingebautes Kit eintragen
op-remove-kit = ausgebautes Kit eintragen
op-add-photo = Foto hinzufügen
op-edit-photo = Foto ändern
op-measure-photo = auf einem Foto messen
op-remove-photo = Foto entfernen
op-import-catalogue = Katalog importieren
op-pin-maker = Schlüssel eines Herstellers hinterlegen
op-import = aus einer Datei importieren
op-change-settings = Einstellungen ändern
op-order = ein Kit anfragen oder die Anfrage ändern

counted-bike = { $count ->
    [one] 1 Rad
   *[other] { $count } Räder
}
counted-check = { $count ->
    [one] 1 Prüfung
   *[other] { $count } Prüfungen
}
counted-photo = { $count ->
    [one] 1 Foto
   *[other] { $count } Fotos
}
counted-maker = { $count ->
    [one] 1 Hersteller
   *[other] { $count } Hersteller
}
counted-measurement = { $count ->
    [one] 1 Messwert
   *[other] { $count } Messwerte
}
thing-renamed = { $field ->
    [owner] Besitzer: { $was } zu { $is }
   *[name] Name: { $was } zu { $is }
}
thing-nobody = niemand
thing-asked = { $what ->
    [request] Anfrage nach { $quantity } { $sku }
    [withdrawn] Rückzug der Anfrage nach { $quantity } { $sku }
    [withdrawal] Rückzug an den Laden zu { $quantity } { $sku }
   *[message] Nachricht an den Laden zu { $quantity } { $sku }
}
thing-notes = die Notizen
thing-wanted = der Wunsch
thing-tag-added = Schlagwort hinzugefügt: { $tag }
thing-seen = { $what }: { $was } zu { $is }
saw-upper-seat = oberer Lagersitz
saw-lower-seat = unterer Lagersitz
saw-frame-material = Rahmenmaterial
saw-steerer-material = Material des Gabelschafts
saw-hoses-through-headset = Leitungen durch den Steuersatz
saw-steering-stop = Lenkanschlag
saw-dual-crown = zweite Gabelkrone
saw-bearings = Lauf der Lager
saw-maker-allows-pressing = Einpressen erlaubt
saw-fork-out = Gabel ausgebaut
saw-value-yes = ja
saw-value-no = nein
saw-value-not-known = nicht bekannt
saw-value-drop-in = integriertes Lager
saw-value-thin-lip = Schale mit dünnem Rand
saw-value-external-cup = außenliegende Schale
saw-value-not-seen = nicht zu sehen
saw-value-aluminium = Aluminium
saw-value-carbon = Carbon
saw-value-steel = Stahl
saw-value-titanium = Titan
saw-value-good = gut
saw-value-rough = rau
thing-tag-removed = Schlagwort entfernt: { $tag }

## Was es ablehnt

refused-check-no-such-kit = Die Prüfung hat kein Kit „{ $sku }“ angesehen.
refused-check-kit-is-in = Das Kit dieser Prüfung ist schon im Rad.
refused-check-kit-is-not-in = Das Kit dieser Prüfung ist nicht im Rad.
refused-check-does-not-fit = { $verdict ->
    [will_not_go] Nach dieser Prüfung passt das Kit nicht; schreib, warum es trotzdem drin ist.
   *[measure_first] Nach dieser Prüfung ist das Kit nicht entschieden; schreib, warum es trotzdem drin ist.
}
refused-measurement-struck-already = Der Messwert ist schon gestrichen.
refused-measurement-not-struck = Der Messwert ist nicht gestrichen.
refused-text-too-long = { field-word } hat { $length } Zeichen; höchstens { $most } sind möglich.
refused-text-empty = { field-word } ist leer.
field-word = { $field ->
    [tag] Ein Schlagwort
    [name] Der Name des Rads
    [owner] Der Besitzer
    [notes] Die Notizen
    [reason] Der Grund
   *[note] Die Notiz
}
refused-log-full = Ein Rad hat höchstens { $most } Zeilen im Verlauf.
refused-bike-tags = Ein Rad hat höchstens { $most } Schlagwörter.
refused-catalogue-number-taken = Eine andere Datei mit Nummer { $number } von { $maker } ist schon da; ein geänderter Katalog braucht eine neue Nummer.
refused-catalogue-older = Nummer { $number } von { $maker } ist älter als Nummer { $used }, die gilt; zurückgehen musst du ausdrücklich.

error-not-in-book = In diesem Buch gibt es „{ $name }“ nicht ({ $what ->
    [bike] Rad
    [check] Prüfung
    [photo] Foto
   *[other] Eintrag
}).
error-no-such = „{ $name }“ gibt es nicht ({ $what ->
    [quantity] Größe
    [unit] Einheit
    [tool] Werkzeug
    [kit] Kit
    [answer] Antwort
    [observation] Beobachtung
   *[reading] Messwert
}).
error-busy = Ein anderes Programm schreibt gerade in das Feldbuch; versuch es gleich noch einmal.
error-full = Auf diesem Gerät ist kein Platz mehr; nichts wurde gesichert.
error-contact-name = Dein Name fehlt: Der Laden muss wissen, wer fragt.
error-contact-way = Es fehlt eine E-Mail-Adresse oder Telefonnummer, damit der Laden antworten kann.
error-contact-email = { $found } ist keine E-Mail-Adresse; erwartet wird eine wie wren@example.org.
error-contact-phone = { $found } ist keine Telefonnummer; erwartet werden 5 bis 15 Ziffern.
error-no-number = „{ $value }“ ist keine Zahl; erwartet werden Ziffern wie 112,5.
error-marks = „{ $value }“ hat mehr als ein Dezimalzeichen; erwartet wird eine Zahl mit höchstens einem und ohne Tausenderzeichen, wie 1234,5.
error-two-spellings = „{ $value }“ kann { $whole } oder { $point } heißen; schreib eines von beiden.
error-reading-value = { $what }: { $found } ist nicht möglich; erwartet werden { $low } bis { $high } { $unit }{ $meant ->
    [none] .
   *[other] . Meinst du { $meant }?
}
reading-question = { $what }: { $value } { $unit } liegt außerhalb der üblichen { $low } bis { $high } { $base }{ $meant ->
    [none] {""}
   *[other] . Meinst du { $meant }?
}
