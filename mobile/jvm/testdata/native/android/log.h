/* Stands for Android's header of this name: what the generated code uses of it. */
#ifndef CHINLIFT_ANDROID_LOG_H
#define CHINLIFT_ANDROID_LOG_H

enum { ANDROID_LOG_INFO = 4, ANDROID_LOG_ERROR = 6, ANDROID_LOG_FATAL = 7 };

int __android_log_print(int priority, const char *tag, const char *format, ...);
int __android_log_write(int priority, const char *tag, const char *text);

#endif
