# Writes bootstrap.csv (invented data: 8 units, 2 or 3 groups each, 2 to 5 rows a group)
# and bootstrap.json: likelihood-ratio tests whose distribution under the smaller model
# is simulated by lme4 (simulate, refit both), for a fixed effect by ML, for the group
# intercept and for a random slope by REML; and PBmodcomp of pbkrtest for the first.
# Run in this folder: Rscript bootstrap.R (four minutes)
suppressMessages({library(lme4); library(pbkrtest); library(jsonlite)})
RNGversion("4.2.0"); set.seed(41)
out <- NULL
for (u in 1:8) {
  a <- 2 * rnorm(1); b <- 0.35 * rnorm(1)
  for (g in 1:(2 + u %% 2)) {
    n <- 2 + (3 * u + 2 * g) %% 4; x1 <- rnorm(n); x2 <- rnorm(n)
    y <- 20 + a + (1 + b) * x1 + 0.28 * x2 + 0.35 * rnorm(1) + rnorm(n)
    out <- rbind(out, data.frame(unit = paste0("u", u), group = paste0("g", g), x1 = x1, x2 = x2, y = y))
  }
}
write.csv(format(out, digits = 17, trim = TRUE), "bootstrap.csv", row.names = FALSE, quote = FALSE)
d <- read.csv("bootstrap.csv")
quiet <- function(e) suppressWarnings(suppressMessages(e))
fit <- function(f, REML, y = d$y) { d$y <- y; quiet(lmer(f, d, REML = REML, control = lmerControl(calc.derivs = FALSE, optimizer = "bobyqa", optCtrl = list(rhoend = 1e-8)))) }
crit <- function(m) if (isREML(m)) REMLcrit(m) else deviance(m, REML = FALSE)
test <- function(small, large, REML, nsim) {
  s <- fit(small, REML); l <- fit(large, REML)
  set.seed(7)
  ys <- simulate(s, nsim = nsim)
  draws <- sapply(ys, function(y) crit(fit(small, REML, y)) - crit(fit(large, REML, y)))
  list(statistic = crit(s) - crit(l), samples = nsim, at_zero = mean(draws < 1e-6),
       p = (1 + sum(draws >= crit(s) - crit(l))) / (1 + nsim), quantiles = unname(quantile(draws, c(0.5, 0.9, 0.95))))
}
full <- y ~ x1 + x2 + (1 | unit) + (1 | unit:group)
res <- list(
  fixed = test(y ~ x1 + (1 | unit) + (1 | unit:group), full, FALSE, 2000),
  group = test(y ~ x1 + x2 + (1 | unit), full, TRUE, 2000),
  slope = test(full, y ~ x1 + x2 + (1 + x1 | unit) + (1 | unit:group), TRUE, 2000))
set.seed(7)
pb <- quiet(PBmodcomp(fit(full, FALSE), fit(y ~ x1 + (1 | unit) + (1 | unit:group), FALSE), nsim = 2000))
res$fixed$pbmodcomp_p <- pb$test["PBtest", "p.value"]
v <- function(p) as.character(packageVersion(p))
write_json(list(source = paste0("bootstrap.R: ", R.version.string, ", lme4 ", v("lme4"), ", pbkrtest ", v("pbkrtest")), tests = res),
  "bootstrap.json", digits = NA, auto_unbox = TRUE)
