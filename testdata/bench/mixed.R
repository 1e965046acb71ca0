# The R half of testdata/bench/peers.sh: Rscript mixed.R FILE REPEATS
# Prints key=value lines; times are CPU seconds, user and system. Loading the
# packages is not counted.
suppressMessages({library(lme4); library(lmerTest)})
args <- commandArgs(TRUE); path <- args[1]; repeats <- as.integer(args[2])
f <- y ~ x1 + x2 + I(x2^2) + (1 + x1 + x2 | unit) + (1 | unit:group)
control <- lmerControl(calc.derivs = FALSE)
cpu <- function() { t <- proc.time(); sum(t[c("user.self", "sys.self")]) }
quiet <- function(e) suppressWarnings(suppressMessages(e))
read <- function() read.csv(path, colClasses = c("factor", "factor", "numeric", "numeric", "numeric"), nrows = 1.1e6)

begin <- cpu(); for (i in seq_len(repeats)) d <- read(); csv <- (cpu() - begin) / repeats
begin <- cpu(); for (i in seq_len(repeats)) m <- quiet(lme4::lmer(f, d, control = control)); plain <- (cpu() - begin) / repeats
begin <- cpu()
for (i in seq_len(repeats)) { t <- quiet(lmerTest::lmer(f, d, control = control)); s <- coef(summary(t)) }
full <- (cpu() - begin) / repeats
cat(sprintf("read=%.9g\nplain=%.9g\nmemory=%.9g\ncsv=%.9g\n", csv, plain, full, csv + full))
cat(sprintf("criterion=%.12f\nrows=%d\n", REMLcrit(m), nrow(d)))
for (i in 1:4) cat(sprintf("estimate%d=%.12g\nse%d=%.12g\ndf%d=%.9g\n", i - 1, s[i, 1], i - 1, s[i, 2], i - 1, s[i, 3]))
cat(sprintf("versions=%s, lme4 %s, lmerTest %s, BLAS %s\n", R.version.string, packageVersion("lme4"), packageVersion("lmerTest"), basename(extSoftVersion()["BLAS"])))
