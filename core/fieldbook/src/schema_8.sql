-- Format 8: which shop a request went to, with the token it was sent with. A request that a shop has, or may have, concerns
-- that shop for good, whichever the user names later; one that was not sent has none. A shop that the user erased is here
-- no more.
CREATE TABLE order_shops (
    key INTEGER PRIMARY KEY,
    base TEXT NOT NULL CHECK (base <> ''),
    -- Absent: earlier formats kept no token but the present shop's.
    token TEXT CHECK (token <> ''),
    UNIQUE (base, token)
) STRICT;
ALTER TABLE outbox ADD COLUMN shop INTEGER REFERENCES order_shops (key);
CREATE INDEX outbox_of_shop ON outbox (shop) WHERE shop IS NOT NULL;

INSERT INTO order_shops (base, token) SELECT base, token FROM shops;
-- Nothing was sent without an agreement, so an earlier shop is known by that.
INSERT INTO order_shops (base)
SELECT DISTINCT base FROM agreements WHERE base NOT IN (SELECT base FROM order_shops) ORDER BY base;

-- While a shop might have had a request, no other could be named: what is on its way is with the present one. With only
-- one shop ever, so is everything. What was delivered went to the shop that was agreed to last before. Of a request that
-- was taken back nothing tells which of several shops may have it.
UPDATE outbox SET shop = CASE
    WHEN state <> 'delivered' AND state <> 'withdrawn' OR (SELECT count(DISTINCT base) FROM order_shops) = 1
        THEN (SELECT o.key FROM order_shops o JOIN shops s ON s.base = o.base)
    WHEN state = 'delivered' THEN (
        SELECT o.key FROM agreements a JOIN order_shops o ON o.base = a.base
        WHERE a.agreed_at <= outbox.delivered_at ORDER BY a.agreed_at DESC, a.key DESC LIMIT 1)
    END
WHERE in_doubt OR state IN ('underway', 'in_doubt', 'delivered');
-- An address that no request went to is not needed here.
DELETE FROM order_shops WHERE key NOT IN (SELECT shop FROM outbox WHERE shop IS NOT NULL);
