# What the field book says in English: requests to a shop, signatures, what was undone, and what it refuses.

## Why a request waits

kit-state-goes-in = fits
kit-state-goes-in-after-work = fits after work
kit-state-measure-first = is not decided
kit-state-will-not-go = does not fit
reason-verdict-changed = By catalogue number { $number } the kit { $is } (it { $was } before). Send it anyway, change it or withdraw it.
reason-readings-changed = By what was measured since, the kit { $is } (it { $was } before). { $order ->
    [possible] Send it anyway, change it or withdraw it.
   *[question] Send it anyway, as a question, change it or withdraw it.
}
reason-price-changed = By catalogue number { $number } the kit costs { $is } instead of { $was }. Send it anyway or withdraw it.
reason-kit-gone = Catalogue number { $number } no longer has the kit. Send it as a question, choose another kit or withdraw it.
reason-token = The shop does not know your token. Enter the one it gave you, then send again.
reason-address = What answers at the shop's address does not take order requests (status { $status }). Correct the address, then send again.
reason-invalid = The shop found faults in the request.
reason-invalid-change = Change it; it is then sent as a new one.
reason-kit-unknown = The shop does not sell this kit. Choose another, or ask the shop.
reason-too-large = The request is too large for the shop. Shorten it; it is then sent as a new one.
reason-photo-too-large = A photo is too large for the shop. Leave it out; the request is then sent as a new one.
reason-key-reused = The shop has another request under this one's key. Ask the shop which one it has.
reason-not-at-shop = The shop does not have the request that this is about, or erased who asked. Speak to the shop.
reason-photo-refused = The shop does not take a photo. Leave it out; the request is then sent as a new one.
reason-photo-lost = A photo's file is missing or cannot be read on this device. The request goes on once it is back; or add it again, or leave it out.
reason-shop-gone = The address of the shop that has this request, or may have it, was erased here or lost by damage, so it can no longer be asked. Tell the shop yourself.
reason-other = The shop refused it (status { $status }): { $detail }
reason-other-silent = The shop refused it without a reason (status { $status }).
verdict-change = By what was measured since, the kit { $is }; the shop was told that it { $was }. Tell the shop.

fault-no-network = There was no network.
fault-not-reached = The shop's computer could not be reached.
fault-timeout = No answer came in time.
fault-tls = No safe connection to the shop came about.
fault-connection-lost = The connection broke.
fault-interrupted = The program ended before an answer came.
fault-no-sense = The answer was none of a shop of this kind (status { $status }).
fault-busy = The shop asked to come again later, or has a fault of its own (status { $status }).
fault-busy-detail = The shop cannot do it just now (status { $status }): { $detail }
fault-photos = Photos did not arrive whole; they are sent again.
fault-catalogue = The shop's catalogue was not taken: { $detail }

## Catalogues

signature-verified = Signed with the maker's key you pinned.
signature-unsigned = Not signed: nothing shows that it comes from the maker unchanged.
signature-unsigned-though-pinned = Not signed, although you pinned a key for this maker: ask the maker before you rely on it.
signature-unchecked = Signed, but you pinned no key for this maker, so the signature was not checked.
signature-other-key = Signed with another key than the one you pinned for this maker.
imported = { $new ->
    [new] Number { $number } of { $maker } imported and is in use.
   *[known] Number { $number } of { $maker } was here already and is in use.
}

## What was done, to follow "Undo:"

op-add-bike = add a bike
op-edit-bike = change a bike
op-archive-bike = archive a bike
op-restore-bike = restore a bike from the archive
op-delete-bike = delete a bike
op-add-measurement = write down a measurement
op-strike-out = strike out a measurement
op-bring-back = restore a measurement
op-keep-check = keep a check
op-fit-kit = record that a kit was fitted
op-remove-kit = record that a kit was taken out
op-add-photo = add a photo
op-edit-photo = change a photo
op-measure-photo = measure on a photo
op-remove-photo = remove a photo
op-import-catalogue = import a catalogue
op-pin-maker = trust a maker's key
op-import = import from a file
op-change-settings = change the settings
op-order = ask for a kit, or change what was asked

counted-bike = { $count ->
    [one] 1 bike
   *[other] { $count } bikes
}
counted-check = { $count ->
    [one] 1 check
   *[other] { $count } checks
}
counted-photo = { $count ->
    [one] 1 photo
   *[other] { $count } photos
}
counted-maker = { $count ->
    [one] 1 maker
   *[other] { $count } makers
}
counted-measurement = { $count ->
    [one] 1 measurement
   *[other] { $count } measurements
}
thing-renamed = { $field ->
    [owner] owner: { $was } to { $is }
   *[name] name: { $was } to { $is }
}
thing-nobody = nobody
thing-asked = { $what ->
    [request] request for { $quantity } { $sku }
    [withdrawn] withdrawal of the request for { $quantity } { $sku }
   *[other] { $what } to the shop about { $quantity } { $sku }
}
thing-notes = the notes
thing-wanted = what is wanted
thing-tag-added = tag added: { $tag }
thing-seen = { $what }: { $was } to { $is }
saw-upper-seat = upper seat
saw-lower-seat = lower seat
saw-frame-material = frame material
saw-steerer-material = steerer material
saw-hoses-through-headset = hoses through headset
saw-steering-stop = steering stop
saw-dual-crown = dual crown
saw-bearings = bearings
saw-maker-allows-pressing = maker allows pressing
saw-fork-out = fork out
saw-value-yes = yes
saw-value-no = no
saw-value-not-known = not known
saw-value-drop-in = drop in
saw-value-thin-lip = thin lip
saw-value-external-cup = external cup
saw-value-not-seen = not seen
saw-value-aluminium = aluminium
saw-value-carbon = carbon
saw-value-steel = steel
saw-value-titanium = titanium
saw-value-good = good
saw-value-rough = rough
thing-tag-removed = tag removed: { $tag }

## What it refuses

refused-check-no-such-kit = the check did not look at a kit `{ $sku }`
refused-check-kit-is-in = this check's kit is in the bike already
refused-check-kit-is-not-in = this check's kit is not in the bike
refused-check-does-not-fit = { $verdict ->
    [will_not_go] by this check the kit does not fit; expected a reason why it is in all the same
   *[measure_first] by this check the kit is not decided; expected a reason why it is in all the same
}
refused-measurement-struck-already = the measurement is struck out already
refused-measurement-not-struck = the measurement is not struck out
field-word = { $field ->
    [tag] a tag
    [name] the bike's name
    [owner] the owner
    [notes] the notes
    [reason] the reason
   *[note] the note
}
refused-text-too-long = { field-word } has { $length } characters; the most is { $most }
refused-text-empty = { field-word } is empty
refused-log-full = a bike's log holds at most { $most } rows
refused-bike-tags = a bike has at most { $most } tags
refused-catalogue-number-taken = another file with number { $number } of { $maker } is here already; a changed catalogue needs a new number
refused-catalogue-older = number { $number } of { $maker } is older than number { $used }, which is in use; going back has to be asked for

error-not-in-book = there is no { $what } `{ $name }` in this book
error-no-such = there is no { $what } `{ $name }`
error-busy = the field book is being written to by another program; try again in a moment
error-full = there is no room left on this device; nothing was saved
error-contact-name = the order request: `contact.name` is missing; expected the name of who asks.
error-contact-way = the order request: `contact.email` is missing; expected an e-mail address or a telephone number, so that the shop can answer.
error-contact-email = the order request: `contact.email` is { $found }; expected an e-mail address such as wren@example.org.
error-contact-phone = the order request: `contact.phone` is { $found }; expected a telephone number of 5 to 15 digits.
error-no-number = `{ $value }` is not a number; expected digits such as 112.5 or 112,5
error-marks = `{ $value }` has more than one decimal point or comma; expected a number with one of them and no separator of thousands, such as 1234.5 or 1234,5
error-two-spellings = `{ $value }` could be { $whole } or { $point }; expected one of these two spellings
error-reading-value = the reading: `value` is { $found }; expected { $low } to { $high } { $unit } for the { $what }{ $meant ->
    [none] .
   *[other] ; did you mean { $meant }?
}
reading-question = a { $what } of { $value } { $unit } is outside the usual { $low } to { $high } { $base }{ $meant ->
    [none] {""}
   *[other] ; did you mean { $meant }?
}
