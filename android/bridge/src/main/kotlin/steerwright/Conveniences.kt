package steerwright

/** Options of a check. Default: slackening, with the catalogue of the first maker. */
fun checkOptions(
    direction: Direction = Direction.SLACKER,
    maker: String? = null,
    target: TargetChange? = null,
    only: String? = null,
) = CheckOptions(maker = maker, direction = direction, target = target, only = only)

/** Options of a bike's screen. Default: everything, in the system's colour theme. */
fun screenOptions(
    check: CheckOptions = checkOptions(),
    drawings: Boolean = true,
    theme: Theme = Theme.AUTO,
) = ScreenOptions(check = check, drawings = drawings, theme = theme)

/** Query of the bike list. Default: bikes that are not in the archive, by name. */
fun bikeQuery(
    text: String = "",
    tag: String? = null,
    archived: Archived = Archived.NOT,
    sort: Sort = Sort.NAME,
    after: Cursor? = null,
    limit: UInt = 50u,
) = BikeQuery(text = text, tag = tag, archived = archived, sort = sort, after = after, limit = limit)

/**
 * The message to display for any error of the library. Not `message`, in which the generated classes list their
 * fields.
 */
val SteerwrightException.reason: String
    get() = when (this) {
        is SteerwrightException.NotFound -> reason
        is SteerwrightException.Refused -> reason
        is SteerwrightException.Invalid -> reason
        is SteerwrightException.PhotoRefused -> reason
        is SteerwrightException.MarksRefused -> reason
        is SteerwrightException.LevelRefused -> reason
        is SteerwrightException.BundleRefused -> reason
        is SteerwrightException.NewerFile -> reason
        is SteerwrightException.NotABook -> reason
        is SteerwrightException.Damaged -> reason
        is SteerwrightException.Busy -> reason
        is SteerwrightException.Full -> reason
        is SteerwrightException.Device -> reason
        is SteerwrightException.Cancelled -> reason
        is SteerwrightException.Shell -> reason
        is SteerwrightException.Internal -> reason
    }
