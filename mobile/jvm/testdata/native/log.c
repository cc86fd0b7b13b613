/* Stands for Android's log library: what is logged goes to standard error. */
#include <android/log.h>
#include <stdarg.h>
#include <stdio.h>

int __android_log_print(int priority, const char *tag, const char *format, ...)
{
	va_list args;
	int n = fprintf(stderr, "log %d %s: ", priority, tag);
	va_start(args, format);
	n += vfprintf(stderr, format, args);
	va_end(args);
	return n + fprintf(stderr, "\n");
}

int __android_log_write(int priority, const char *tag, const char *text)
{
	return __android_log_print(priority, tag, "%s", text);
}
