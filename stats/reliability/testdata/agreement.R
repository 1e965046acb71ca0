# ICC(2,1) and ICC(2,k) after Shrout and Fleiss (1979, page 424) for tables with
# hardly any or no spread between subjects; R 4.x, base only.
agreement <- function(x) {
  n <- nrow(x); k <- ncol(x); m <- mean(x)
  B <- k * sum((rowMeans(x) - m)^2) / (n - 1)
  J <- n * sum((colMeans(x) - m)^2) / (k - 1)
  E <- sum((x - outer(rowMeans(x), colMeans(x), "+") + m)^2) / ((n - 1) * (k - 1))
  r <- (B - E) / (B + (k - 1) * E + k * (J - E) / n)
  rest <- n * (1 + (k - 1) * r) - k * r
  v <- (k - 1) * (n - 1) * (k * r * J / E + rest)^2 / ((n - 1) * (k * r * J / E)^2 + rest^2)
  upper <- qf(.975, n - 1, v); lower <- qf(.975, v, n - 1)
  noise <- k * J + (k * n - k - n) * E
  c(single = r, average = (B - E) / (B + (J - E) / n), df = v,
    low = n * (B - upper * E) / (upper * noise + n * B),
    high = n * (lower * B - E) / (noise + n * lower * B))
}
print(agreement(rbind(c(2, 1), c(0, 1), c(0, 2))), digits = 15)
print(agreement(rbind(c(1, 1), c(0, 1), c(0, 1))), digits = 15)
print(agreement(rbind(c(1, -1), c(0, 0))), digits = 15)
print(agreement(rbind(c(0, 2), c(2, 0))), digits = 15)
