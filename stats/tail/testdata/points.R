# Writes points.json: tails and points of Student's t and F by R, far out and with few,
# many and fractional degrees of freedom. Run in this folder: Rscript points.R
suppressPackageStartupMessages(library(jsonlite))
t <- expand.grid(t = c(1e-6, 0.3, 1, 2.2, 7, 40, 1e4), df = c(0.5, 1, 2.5, 7.3, 40, 1999, 2001, 1e5, 1e8))
t$p <- 2 * pt(-t$t, t$df)
q <- expand.grid(alpha = c(1e-10, 1e-4, 0.01, 0.05, 0.1, 0.5, 0.9), df = c(0.5, 1, 2.5, 7.3, 40, 1999, 2001, 1e5, 1e8))
# qt itself is good to six digits only with half a degree of freedom and far out.
q <- q[q$df >= 1, ]
q$q <- qt(q$alpha / 2, q$df, lower.tail = FALSE)
f <- expand.grid(f = c(0.01, 0.9, 3, 20, 300), d1 = c(1, 2, 3.5, 12), d2 = c(1, 4.2, 30, 900, 1e5))
f$p <- pf(f$f, f$d1, f$d2, lower.tail = FALSE)
out <- list(source = paste0("points.R: ", R.version.string, "; pt, qt, pf"), t = t[t$p > 1e-100, ], q = q, f = f[f$p > 1e-100, ])
write_json(out, "points.json", digits = NA, auto_unbox = TRUE)
