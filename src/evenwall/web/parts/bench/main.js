// One page, two uses: the way in for a phone, and the bench itself.

await import(location.pathname === "/bench/enter" ? "./enter.js" : "./page.js");
