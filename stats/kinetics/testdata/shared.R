# Writes shared.csv (invented data: five first-order responses with one time
# constant) and shared.json: the joint fit by nls, its covariance and the profile
# interval of ln tau. Run in this folder: Rscript shared.R
suppressPackageStartupMessages(library(jsonlite))
set.seed(20261125)
start <- c(92, 104, 110, 99, 121); steady <- c(138, 151, 149, 144, 160); last <- c(60, 75, 90, 48, 120)
d <- do.call(rbind, lapply(seq_along(start), function(b) {
  t <- seq(0, last[b], by = 3)
  data.frame(bout = b, t = t, y = round(steady[b] + (start[b] - steady[b]) * exp(-t / 40) + rnorm(length(t), 0, 2), 1))
}))
write.csv(d, "shared.csv", row.names = FALSE, quote = FALSE)
d <- read.csv("shared.csv")
rss <- function(u) { e <- exp(-d$t / exp(u)); X <- cbind(model.matrix(~ 0 + factor(bout), d), model.matrix(~ 0 + factor(bout), d) * e); lm.fit(X, d$y) }
slope <- function(u) { r <- rss(u)$residuals; b <- rss(u)$coefficients[6:10]; e <- exp(-d$t / exp(u)); sum(r * b[d$bout] * e * d$t / exp(u)) }
u <- uniroot(slope, log(c(20, 80)), tol = 1e-15)$root
f0 <- rss(u)$coefficients
m <- nls(y ~ s[bout] + (h[bout] - s[bout]) * exp(-t / exp(u)), d, start = list(u = u, s = unname(f0[1:5]), h = unname(f0[1:5] + f0[6:10])),
         control = nls.control(tol = 1e-7))
cut <- deviance(m) * (1 + qt(0.975, df.residual(m))^2 / df.residual(m))
f <- function(x) sum(rss(x)$residuals^2) - cut
out <- list(source = paste0("shared.R: ", R.version.string, "; u = ln tau by uniroot on the slope of the projected sum of squares, nls from there for coefficients and vcov, profile of u by uniroot"),
  u = unname(coef(m)["u"]), steady = unname(coef(m)[2:6]), start = unname(coef(m)[7:11]), sigma = summary(m)$sigma, df = df.residual(m), rss = deviance(m),
  vcov = unname(vcov(m)),
  u_low = uniroot(f, c(u - 1, u), tol = 1e-14)$root, u_high = uniroot(f, c(u, u + 1), tol = 1e-14)$root)
write_json(out, "shared.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)
