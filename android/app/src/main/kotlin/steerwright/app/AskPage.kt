package steerwright.app

import android.text.InputType
import android.view.View
import steerwright.BikeId
import steerwright.Event
import steerwright.OutboxLine
import steerwright.ShopView

private const val EMAIL = InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_VARIATION_EMAIL_ADDRESS
private const val NAME = InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_VARIATION_PERSON_NAME

/** Asking the shop: what goes along, exactly, then who asks. */
suspend fun MainActivity.askPage(bike: BikeId, sku: String): View {
    val view = screens.ask(bike, sku)
    val contact = view.contact
    val content = ArrayList<View?>()
    content += view.onlyQuestion?.let { look.edged(look.tool, look.sheet, look.text(it)) }
    content += refusal()
    content += look.section(word("ask-goes-along"))
    for (row in view.goesAlong) {
        content += look.pad(look.column(look.soft(row.label), look.text(row.text)), 0, 8)
        content += look.rule()
    }
    view.tightest?.let {
        content += look.section(word("bike-wrong-if"))
        content += look.text(it)
    }
    content += view.caution?.let { look.space(look.text(it, colour = look.red), top = 12) }
    content += field(word("ask-name"), "name", contact.name, NAME, autofill = View.AUTOFILL_HINT_NAME)
    content += field(word("ask-email"), "email", contact.email.orEmpty(), EMAIL, autofill = View.AUTOFILL_HINT_EMAIL_ADDRESS)
    content += field(word("ask-phone"), "phone", contact.phone.orEmpty(), InputType.TYPE_CLASS_PHONE, autofill = View.AUTOFILL_HINT_PHONE)
    content += field(word("ask-address"), "address", contact.address.orEmpty(), lines = 3, autofill = View.AUTOFILL_HINT_POSTAL_ADDRESS)
    content += field(word("ask-note"), "note", lines = 3)
    content += look.space(look.soft(view.shop), top = 12)
    fun now(name: String, stored: String?) = typed(name) ?: stored.orEmpty()
    fun put(again: Boolean) {
        act(
            Event.Ask(
                bike, sku, now("name", contact.name), now("email", contact.email), now("phone", contact.phone),
                now("address", contact.address), now("note", ""), again,
            ),
        )
    }
    val keep = typed(MainActivity.KEEP)
    val put = if (keep == null) look.primary(word("ask-put")) { put(false) } else look.second(keep) { put(true) }
    return sheet(view.title, content, closeIcon(view.bikeName), below = listOf(below(put)), under = view.bikeName)
}

/** Every request, the latest first. */
suspend fun MainActivity.outboxPage(): View {
    val view = screens.outbox()
    val content = ArrayList<View?>()
    content += notice()
    content += look.soft(view.shop)
    content += look.space(
        look.primary(view.next.text) { if (view.next.contacts) act(Event.ContactShop) else go(Where(Page.BOOK)) },
        top = 12,
    )
    content += view.empty?.let { look.space(look.soft(it), top = 20) }
    view.rows.forEach { content += request(it) }
    return sheet(view.title, content)
}

private fun MainActivity.request(row: OutboxLine): View {
    val bike = row.bike
    val name = look.text(row.bikeName)
    val head = look.column(look.text(row.text, 18f, bold = true), name)
    head.minimumHeight = look.dp(48)
    if (bike != null) look.button(head, null) { go(Where(Page.BIKE, bike)) }
    val withdraw = if (row.canWithdraw) {
        look.space(look.quiet(word("outbox-withdraw")) { act(Event.Withdraw(row.id)) }, top = 8)
    } else {
        null
    }
    val state = listOfNotNull(row.state, row.number).joinToString(" · ")
    val body = look.column(head, look.text(state), row.detail?.let { look.text(it) }, look.soft(row.`when`), withdraw)
    return look.column(look.pad(body, 0, 12), look.rule())
}

/** The book: makers and their catalogues. */
suspend fun MainActivity.bookPage(): View {
    val view = screens.book()
    val content = ArrayList<View?>()
    content += notice()
    content += look.section(word("book-shop"))
    content += shop(view.shop)
    content += look.section(word("book-catalogues"))
    content += view.empty?.let { look.text(it) }
    for (maker in view.makers) {
        content += look.pad(
            look.column(look.text(maker.maker, 18f, bold = true), look.text(maker.catalogue), look.soft(maker.signature)), 0, 8,
        )
        content += look.rule()
    }
    content += look.section(word("book-import"))
    content += fileForm(word("book-import-button"), if (typed("of shop") == null) refusal() else null) {
        type("of shop", null)
        act(Event.ImportCatalogue(it))
    }
    if (view.empty != null) {
        content += look.space(look.soft(word("book-demo")), top = 20, bottom = 8)
        content += look.quiet(word("book-demo-button")) { act(Event.AddDemoCatalogue) }
    }
    return sheet(view.title, content)
}

/** The shop: naming it, agreeing, ending that. The token is not kept with what is typed. */
private fun MainActivity.shop(shop: ShopView): View {
    var token = ""
    val secret = InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_VARIATION_PASSWORD
    val form = listOf(
        if (typed("of shop") != null) refusal() else null,
        field(word("shop-address"), "address", shop.address.orEmpty(), PLAIN or InputType.TYPE_TEXT_VARIATION_URI),
        field(word("shop-token"), "token", kind = secret, keep = { token = it }),
        look.soft(word("shop-token-about")),
        look.space(
            look.primary(word("shop-set")) {
                type("of shop", "yes")
                act(Event.SetShop(typed("address") ?: shop.address.orEmpty(), token))
            },
            top = 12,
        ),
    )
    return look.column(
        look.text(shop.text),
        shop.consent?.let { look.space(look.edged(look.tool, look.sheet, look.text(it)), top = 12) },
        shop.consent?.let { look.primary(word("shop-agree")) { act(Event.AgreeToSend) } },
        shop.agreed?.let { look.space(look.text(it), top = 8, bottom = 8) },
        shop.agreed?.let { look.quiet(word("shop-end")) { act(Event.EndAgreement) } },
        if (shop.address == null) {
            look.column(*form.toTypedArray())
        } else {
            folding("shop", look.text(word("shop-other"), bold = true), typed("of shop") != null, form)
        },
    )
}
