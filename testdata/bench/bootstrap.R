# The R half of the comparison of cluster bootstraps in testdata/bench/peers.sh:
# Rscript bootstrap.R FILE REPEATS
# Prints key=value lines; times are CPU seconds, user and system. Loading the
# package is not counted.
suppressMessages(library(boot))
args <- commandArgs(TRUE); repeats <- as.integer(args[2])
d <- read.csv(args[1])
sessions <- as.matrix(d[, c("xx", "xy", "yy")])
swimmers <- rowsum(sessions, d$swimmer)
R <- 2000
cpu <- function() { t <- proc.time(); sum(t[c("user.self", "sys.self")]) }
timed <- function(f) { begin <- cpu(); for (i in seq_len(repeats)) out <- f(); list(s = (cpu() - begin) / repeats, out = out) }
r <- function(s) s[2] / sqrt(s[1] * s[3])
set.seed(1)
say <- function(key, value) cat(sprintf("%s=%.15g\n", key, value))
say("estimate", r(colSums(sessions)))

for (name in c("swimmers", "sessions")) {
  sums <- get(name)
  # boot as its manual has it (indices), and by frequencies, which saves it the copies.
  by_index <- timed(function() { b <- boot(sums, function(s, i) r(colSums(s[i, , drop = FALSE])), R = R); boot.ci(b, type = "perc"); b })
  by_count <- timed(function() { b <- boot(sums, function(s, f) r(drop(f %*% s)), R = R, stype = "f"); boot.ci(b, type = "perc"); b })
  # Without boot: one matrix product.
  product <- timed(function() { s <- t(rmultinom(R, nrow(sums), rep(1, nrow(sums)))) %*% sums; v <- s[, 2] / sqrt(s[, 1] * s[, 3]); quantile(v, c(0.025, 0.975)); v })
  bca <- timed(function() { b <- boot(sums, function(s, f) r(drop(f %*% s)), R = R, stype = "f"); list(boot.ci(b, type = c("perc", "bca")), b) })
  say(paste0(name, "_index"), by_index$s); say(name, by_count$s); say(paste0(name, "_product"), product$s); say(paste0(name, "_bca"), bca$s)
  ci <- bca$out[[1]]
  say(paste0(name, "_se"), sd(bca$out[[2]]$t)); say(paste0(name, "_low"), ci$percent[4]); say(paste0(name, "_high"), ci$percent[5])
  say(paste0(name, "_bca_low"), ci$bca[4]); say(paste0(name, "_bca_high"), ci$bca[5])
}

# Two levels: swimmers, and sessions within each swimmer drawn.
members <- split(seq_len(nrow(sessions)), d$swimmer); size <- lengths(members)
levels <- timed(function() {
  b <- boot(seq_along(members), function(g, i) {
    rows <- unlist(lapply(i, function(k) members[[k]][sample.int(size[k], size[k], TRUE)]))
    r(colSums(sessions[rows, , drop = FALSE]))
  }, R = R)
  list(boot.ci(b, type = "perc"), b)
})
say("levels", levels$s); say("levels_se", sd(levels$out[[2]]$t))
say("levels_low", levels$out[[1]]$percent[4]); say("levels_high", levels$out[[1]]$percent[5])
cat(sprintf("versions=boot %s\n", packageVersion("boot")))
